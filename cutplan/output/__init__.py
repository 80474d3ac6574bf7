"""What leaves the tool: the terminal view, JSON, the saw-list workbook and its CSV, job templates, paper wraps.

Each module imports its own library (rich, openpyxl, reportlab) and is imported by the command that needs it. Nothing
here works out a length or a plan, and nothing here reads a job.
"""
