"""The command line: parse, call one function, show. Heavy imports stay inside the commands."""
