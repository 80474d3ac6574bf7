"""The sheets of the saw-list workbook, a module each; ``page`` holds what they share."""
