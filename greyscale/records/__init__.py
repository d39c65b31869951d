"""The print log: readings, corrections, verifications and notes in one SQLite file.

`print_log.open_log` opens it; `add_reading`, `add_correction`, `add_verification` and `add_note`
add to it; `find` says what there is and which readings may be compared over time; `kept_files`
gives back what it keeps; `exchange` carries it elsewhere.
"""
