"""The print log: readings, corrections, verifications and notes in one SQLite file.

`print_log.open_log` opens it; `add_reading` and `adding` add to it; `find` says what there
is and which readings may be compared over time; `entries` gives back what is kept of them;
`exchange` carries it elsewhere.
"""
