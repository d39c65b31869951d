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
    "verify": "verify proof-{n}.txt --correction correction-{n} -o out --pdf",
    "apply to TIFF": "apply correction-{n} fog-{n}.tif -o print.tif --encoding lstar",
    "apply to PNG": "apply correction-{n} fog-{n}.tif -o print.png --encoding lstar",
    "apply to JPEG": "apply correction-{n} fog-{n}.tif -o print.jpg --encoding lstar",
    "preview": "preview 24h-{n}.txt fog-{n}.tif -o seen.png --encoding lstar",
    "lights": "lights {light} -o out",
    "log export": "log export --db log-{n}.sqlite3 -o exported.json",
    "log show": "log show 1 --db log-{n}.sqlite3 -o kept",
}
"""`{n}` is 1 or 2."""

QUICK = ("json", "analyse", "apply to TIFF", "log export", "log show")
"""Commands of every kind of output that take a moment; the others are tried less often."""


def command(name: str, number: int) -> list[str]:
    """Return the words of a command, for the first or the second result; which may replace."""
    light, tones, observer = (("D50", "9", "2"), ("A", "13", "10"))[number - 1]
    words = COMMANDS[name].format(n=number, light=light, tones=tones, observer=observer)
    return [*words.split(), "--replace"]
