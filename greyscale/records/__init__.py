"""The print log: readings, corrections, verifications and notes in one SQLite file.

`print_log.open_log` opens it; `add_reading`, `add_correction`, `add_verification` and `add_note`
add to it; `find` and `kept_files` give back what it keeps; `export` and `imports` carry it
elsewhere; `alike` says which readings may be compared over time.
"""
