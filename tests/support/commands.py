"""Every command that writes a result, by what it writes, in two forms whose results differ."""

from __future__ import annotations

COMMANDS = {
    "analyse": "analyse reading-{n}.txt -o out",
    "json": "analyse reading-{n}.txt --json result.json",
    "compare": "compare 24h-1.txt 24h-2.txt --light D50 --light A --observer {observer} -o out",
    "settings": "settings reading-{n}.txt 24h-1.txt -o out",
    "drying": "drying 1h-{n}.txt 24h-{n}.txt --hours 1,24 -o out",
    "chart": "chart -o page --tones {tones} --dpi 72",
    "correct": "correct reading-{n}.txt --name reading-{n} -o made --lut-size 9",
    "verify": "verify proof-{n}.txt --correction correction-{n} -o out --pdf --json numbers.json",
    "apply to TIFF": "apply correction-{n} fog-{n}.tif -o print.tif --encoding lstar",
    "apply to PNG": "apply correction-{n} fog-{n}.tif -o print.png --encoding lstar",
    "apply to JPEG": "apply correction-{n} fog-{n}.tif -o print.jpg --encoding lstar",
    "preview": "preview 24h-{n}.txt fog-{n}.tif -o seen.png --encoding lstar",
    "lights": "lights {light} -o out",
    "log export": "log export --db log-{n}.sqlite3 -o exported.json",
    "log show": "log show 1 --db log-{n}.sqlite3 -o kept",
}
"""`{n}` is 1 or 2."""

MORE = {
    "compare, both": "compare 24h-1.txt 24h-2.txt --observer {observer} -o out --pdf "
    "--json numbers.json",
    "settings, both": "settings reading-{n}.txt 24h-1.txt -o out --pdf --json numbers.json",
    "verify, both": "verify proof-{n}.txt --correction correction-{n} -o out --json numbers.json",
    "log show, both": "log show 1 --db log-{n}.sqlite3 -o kept --json numbers.json",
    "analyse, both": "analyse reading-{n}.txt -o out --pdf --json numbers.json",
    "chart of settings": "chart -o page --settings 2 --seed {n} --dpi 72",
    "correct for a profile": "correct reading-{n}.txt --name r{n} -o made --lut-size 9 --icc link",
    "read": "read chart.txt -o typed.txt < typed-{n}.txt",
    "lights behind a glass": "lights {light} --glazing glass.csv -o out --json numbers.json",
    "glass": "lights --glass bare.csv behind-{n}.csv -o made.csv",
    "apply with a strip": "apply correction-{n} wide-{n}.tif -o print.tif --strip below "
    "--encoding lstar",
    "apply to several": "apply correction-{n} fog-1.tif fog-2.tif -o prints --encoding lstar",
    "log export to a folder": "log export --db log-{n}.sqlite3 -o exported",
    "log trend": "log trend --db trend-{n}.sqlite3 -o out --pdf --json numbers.json",
    "log status": "log status --db log-{n}.sqlite3 -o out --json numbers.json",
    "log list": "log list --db log-{n}.sqlite3 --json out.json",
    "typed on the page": "request typed-{n}.http",
}
"""Further forms; they are tried for what a kill or a full disk leaves."""

ADDING = {
    "demo": "demo -o shown --replace",
    "demo, the first": "demo -o first",
    "completion": "--install-completion bash",
    "check": "check mixed-1.txt --layout chart.txt --repaired right.txt --json found.json",
    "log add": "log add 24h-2.txt --db log-1.sqlite3",
    "log add, the first": "log add 24h-2.txt --db first.sqlite3",
    "log add of a correction": "log add correction-1 --db log-1.sqlite3",
    "log add of a note": "log add --note cleaned --about 1 --db log-1.sqlite3",
    "log print": "log print fog-1.tif --title Fog --copy 1/25 --db log-1.sqlite3",
    "log import": "log import log-2.json --db log-1.sqlite3",
    "log import, the first": "log import log-2.json --db first.sqlite3",
    "log check of an older log": "log check --db older.sqlite3",
    "log gather": "log gather studio --db log-1.sqlite3",
    "log rescue": "log rescue --db log-1.sqlite3 -o first.sqlite3",
    "analyse, logged": "analyse 24h-2.txt --log --db log-1.sqlite3",
    "verify, logged": "verify proof-1.txt --correction correction-1 --log --db log-1.sqlite3",
    "correct, logged": "correct 24h-2.txt -o made --lut-size 9 --pdf --log --db log-1.sqlite3",
    "drying, logged": "drying 1h-1.txt 24h-1.txt --hours 1,24 -o dry --pdf --json numbers.json "
    "--paper baryta --log --db log-1.sqlite3",
    "upload": "request upload.http",
    "printed": "request printed.http",
    "a new paper": "request paper.http",
}
"""Commands that replace nothing: what they make is added to what is there."""

QUICK = ("json", "analyse", "apply to TIFF", "log export", "log show")
"""Commands of every kind of output that take a moment; the others are tried less often."""


def command(name: str, number: int) -> list[str]:
    """Return the words of a command, for the first or the second result; which may replace."""
    light, tones, observer = (("D50", "9", "2"), ("A", "13", "10"))[number - 1]
    told = {**COMMANDS, **MORE}[name]
    words = told.format(n=number, light=light, tones=tones, observer=observer).split()
    if words[0] != "request":
        words.insert(words.index("<") if "<" in words else len(words), "--replace")
    return words
