"""Sound files of every kind that is read, small ones: what is changed in them then matters."""

from __future__ import annotations

import io
import json
import sqlite3
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from PIL import Image
from support import cxf3_files, logged, picture_files, reading_files
from support.corrections import correction_with, curve_against

LEVELS = np.array([0.0, 0.2, 0.4, 0.5, 0.6, 0.8, 1.0, 1.0])
WAVELENGTHS = np.arange(380.0, 741.0, 20.0)


def _values() -> tuple[list[str], np.ndarray, np.ndarray]:
    device = np.repeat(LEVELS[:, np.newaxis], 3, axis=1)
    tilt = 1 + 0.02 * np.cos(WAVELENGTHS / 60)
    spectra = (0.03 + 0.85 * LEVELS**2.2)[:, np.newaxis] * tilt
    return [f"A{i + 1}" for i in range(len(LEVELS))], device, spectra.round(5)


@cache
def iso28178() -> tuple[bytes, ...]:
    ids, device, spectra = _values()
    lab = np.column_stack([16 + 80 * LEVELS, 0.3 - LEVELS, 1.5 * LEVELS]).round(3)
    rows = "\n".join(
        f'"grey {i}"\t{255 * v:.2f}\t{255 * v:.2f}\t{255 * v:.2f}\t{a}\t{b}\t{c}'
        for i, (v, (a, b, c)) in enumerate(zip(LEVELS, lab, strict=True))
    )
    colorimetric = (
        'CGATS.17\nORIGINATOR "workshop"\nFILE_DESCRIPTOR "cotton rag, 2nd"\n'
        'CREATED "2026-03-04T10:30:00"\nINSTRUMENTATION "hand-held"\nSAMPLE_BACKING "black"\n'
        'WEIGHTING_FUNCTION "ILLUMINANT,D50"\nWEIGHTING_FUNCTION "OBSERVER,2 degree"\n'
        'KEYWORD "PATCH_PLACE"\n# measured dry\nNUMBER_OF_FIELDS 7\nBEGIN_DATA_FORMAT\n'
        f"SAMPLE_ID\tRGB_R\tRGB_G\tRGB_B\tLAB_L\tLAB_A\tLAB_B\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(LEVELS)}\nBEGIN_DATA\n{rows}\nEND_DATA\n"
    )
    cmyk = "\n".join(
        f"{i} 0 0 0 {100 - 100 * v:g} {9 + 80 * v:g} {9.5 + 83 * v:g} {8 + 68 * v:g}"
        for i, v in enumerate(LEVELS)
    )
    tristimulus = (
        "ISO28178\nBEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K XYZ_X XYZ_Y XYZ_Z\n"
        f"END_DATA_FORMAT\nNUMBER_OF_SETS {len(LEVELS)}\nBEGIN_DATA\n{cmyk}\nEND_DATA\n"
    )
    spectral = [
        reading_files.iso28178(ids, device, spectra, WAVELENGTHS, percent, spelling, gap)
        for percent, spelling, gap in ((False, "SPECTRAL_NM{}", "\t"), (True, "nm{}", "  "))
    ]
    second = spectral[0].replace("Illumination=M1", "Illumination=M2").partition("\n")[2]
    texts = [*spectral, colorimetric, tristimulus, spectral[0] + second]
    return tuple(text.encode() for text in texts)


@cache
def delimited() -> tuple[bytes, ...]:
    ids, device, spectra = _values()
    tables = [
        reading_files.delimited(ids, device, spectra, WAVELENGTHS),
        reading_files.delimited(ids, device, spectra, WAVELENGTHS, percent=True, mark=";"),
    ]
    rows = "\n".join(f"{i};{255 * v:.0f};{16 + 80 * v:.2f};0,3;-1,2" for i, v in enumerate(LEVELS))
    tables.append(f"# PAPER: kozo\nCondition;M2\n\npatch;gray;L*;a*;b*\n{rows}\n")
    header, *lines = tables[0].splitlines()
    tables.append("\n".join([f"Condition,{header}", *(f"M{len(row) % 3},{row}" for row in lines)]))
    return tuple(text.encode() for text in tables)


@cache
def cxf3() -> tuple[bytes, ...]:
    ids, device, spectra = _values()
    patches = [
        cxf3_files.Patch(
            name=name,
            rgb=tuple(float(255 * value) for value in values),
            spectra={"m1": spectrum, "m2": 0.98 * spectrum},
            lab={"m1": np.array([50.0, 0.1, -0.2])},
            place=f"A{i + 1}",
        )
        for i, (name, values, spectrum) in enumerate(zip(ids, device, spectra, strict=True))
    ][:4]
    specifications = [
        cxf3_files.specification("m1", "M1", backing="white", start=380, step=20),
        cxf3_files.specification("m2", "M2", start=380, step=20),
    ]
    several = cxf3_files.cxf3_bytes(patches, specifications, tags=(("paper", "kozo"),))
    return reading_files.cxf3(ids[:4], device[:4], spectra[:4], WAVELENGTHS).encode(), several


@cache
def ramps() -> tuple[bytes, ...]:
    """Readings that are analysed: of both kinds, with repeats and tones enough."""
    with tempfile.TemporaryDirectory(prefix="fuzz-seeds-") as name:
        written = [logged.reading_file(Path(name), k).read_bytes() for k in range(2)]
    return (*written, iso28178()[0])


@cache
def layouts() -> tuple[bytes, ...]:
    rows = "\n".join(
        f"{i + 1}\t{'AB'[i % 2]}{i // 2 + 1}\t{255 * v:.3f}\t{255 * v:.3f}\t{255 * v:.3f}\t"
        '"for the ramp"'
        for i, v in enumerate(LEVELS)
    )
    text = (
        'CGATS.17\nFILE_DESCRIPTOR "harbour, 8 tones"\nRGB_SCALE 255\nKEYWORD "PATCH_PLACE"\n'
        'KEYWORD "REASON"\nPAGE_WIDTH 210\nNUMBER_OF_FIELDS 6\nBEGIN_DATA_FORMAT\n'
        "SAMPLE_ID\tPATCH_PLACE\tRGB_R\tRGB_G\tRGB_B\tREASON\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(LEVELS)}\nBEGIN_DATA\n{rows}\nEND_DATA\n"
    )
    return (text.encode(),)


def small_layout() -> bytes:
    """The layout of four greys, to type in."""
    rows = "".join(
        f"{i + 1}\t{place}\t{v}\t{v}\t{v}\n"
        for i, (place, v) in enumerate([("A1", 0.0), ("A2", 127.5), ("B1", 63.75), ("B2", 255.0)])
    )
    return (
        'CGATS.17\nFILE_DESCRIPTOR "chart-1"\nRGB_SCALE 255\nKEYWORD "PATCH_PLACE"\n'
        "NUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\nSAMPLE_ID\tPATCH_PLACE\tRGB_R\tRGB_G\tRGB_B\n"
        f"END_DATA_FORMAT\nNUMBER_OF_SETS 4\nBEGIN_DATA\n{rows}END_DATA\n"
    ).encode()


@cache
def typed() -> tuple[bytes, ...]:
    """What is typed of four patches: L* a* b*, L*, density; with steps back, doubts, a stop."""
    return (
        b"16,1 0,3 -0,2\n54 0.2 1.1\n96.2 0.5 -1.8\n35.1 0.4 0.3\n",
        b"16;0;0\nb\n16.5\n5.4\n\n96\ns\n35\nq\n",
        b"2.1\n0.71\n0.04\n1.05\n",
        b"16 0 0\ns\n96 0 0\nb\nb\n54 0 0\n80 0 0\n80 0 0\nq\n",
    )


@cache
def begun() -> tuple[bytes, ...]:
    """Readings that were typed in half."""
    from greyscale.checks.typing_in import typed_reading
    from greyscale.readings.iso28178 import write
    from greyscale.readings.layout import read_layout

    with tempfile.TemporaryDirectory(prefix="fuzz-seeds-") as name:
        path = Path(name) / "layout.txt"
        path.write_bytes(small_layout())
        layout = read_layout(path)
        values = {0: np.array([16.1, 0.3, -0.2]), 3: np.array([96.2, 0.5, -1.8])}
        write(typed_reading(layout, values), path)
        return (path.read_bytes(),)


def _lamp_rows() -> list[tuple[int, float]]:
    return [(w, round(0.2 + np.exp(-(((w - 560) / 70) ** 2)), 4)) for w in range(380, 781, 10)]


@cache
def lamps() -> tuple[bytes, ...]:
    rows = _lamp_rows()
    data = "".join(f'<SpectralData wavelength="{w}">{v}</SpectralData>' for w, v in rows)
    xml = (
        '<?xml version="1.0"?>\n<IESTM2714 xmlns="iestm2714" version="1.0">'
        "<Header><Manufacturer>workshop</Manufacturer><Description>hall lamp</Description>"
        "<DocumentCreationDate>2026-01-02</DocumentCreationDate></Header>"
        "<SpectralDistribution><SpectralQuantity>relative</SpectralQuantity>"
        "<BandwidthFWHM>2.0</BandwidthFWHM><BandwidthCorrected>true</BandwidthCorrected>"
        f"{data}</SpectralDistribution></IESTM2714>"
    )
    names = " ".join(f"SPECTRAL_NM{w}" for w, _ in rows)
    values = " ".join(str(v) for _, v in rows)
    wide = (
        f"CGATS.17\nNUMBER_OF_SETS 1\nBEGIN_DATA_FORMAT\nSAMPLE_ID {names}\nEND_DATA_FORMAT\n"
        f"BEGIN_DATA\n1 {values}\nEND_DATA\n"
    )
    long = "\n".join(f"{w}\t{v}" for w, v in rows)
    tall = (
        "ISO28178\nBEGIN_DATA_FORMAT\nSPECTRAL_NM SPECTRAL_POWER\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(rows)}\nBEGIN_DATA\n{long}\nEND_DATA\n"
    )
    columns = "wavelength;power\n" + "\n".join(f"{w};{v}".replace(".", ",") for w, v in rows)
    return tuple(text.encode() for text in (xml, xml, wide, tall, f"# lamp\n{long}\n", columns))


@cache
def glazings() -> tuple[bytes, ...]:
    rows = [(w, min(0.9, max(0.0, (w - 380) / 40))) for w in range(300, 781, 10)]
    return (
        "\n".join(f"{w},{v:.3f}" for w, v in rows).encode(),
        "\n".join(f"{w}\t{100 * v:.1f}" for w, v in rows).encode(),
    )


@cache
def tone_aims() -> tuple[bytes, ...]:
    rows = [(v, 100 * v**0.9) for v in np.linspace(0, 1, 9)]
    return (
        ("level,L\n" + "\n".join(f"{v},{L:.2f}" for v, L in rows)).encode(),
        "\n".join(f"{v};{L:.2f}".replace(".", ",") for v, L in rows).encode(),
    )


@cache
def tonings() -> tuple[bytes, ...]:
    return (
        b"L, hue, chroma\n10, 70, 1\n50, 75, 6\n95, 80, 1.5\n",
        b"# warm\nL;a;b\n10;0,5;2,0\n50;1,5;6,5\n95;0,2;1,0\n",
        b"20, 0.5, 2\n80, 1, 3\n",
    )


@cache
def corrections() -> tuple[bytes, ...]:
    from greyscale.correction.as_json import correction_text, to_json

    first = correction_with(curve_against(points=9))
    second = correction_with(curve_against(points=5), round=2, follows="abc", toning="warm")
    return tuple(correction_text(to_json(one)).encode() for one in (first, second))


@cache
def cubes() -> tuple[bytes, ...]:
    from greyscale.correction.luts import write_cube

    axis = np.linspace(0, 1, 4)
    nodes = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), -1) ** 0.9
    with tempfile.TemporaryDirectory(prefix="fuzz-seeds-") as name:
        paths = [Path(name) / f"{i}.cube" for i in range(2)]
        write_cube(np.repeat(axis[:, np.newaxis], 3, axis=1), paths[0], "a", ["b"])
        write_cube(nodes, paths[1], "a", ["b"])
        return tuple(path.read_bytes() for path in paths)


@cache
def profiles() -> tuple[bytes, ...]:
    """Output profiles whose tables are plain, of every kind of table, with few nodes."""
    from support.output_profiles import output_profile

    from greyscale.icc.profile import profile_bytes

    def printer(device: np.ndarray) -> np.ndarray:
        mean = device.mean(axis=1)
        a, b = device[:, 0] - device[:, 1], device[:, 1] - device[:, 2]
        return np.column_stack([16 + 80 * mean, 60 * a, 60 * b])

    kinds = (((2, 4), "lut16"), ((2, 4), "lut8"), ((4, 3), "ab"))
    return tuple(
        profile_bytes(output_profile(printer, version=version, kind=kind, points=3))
        for version, kind in kinds
    )


@cache
def working_spaces() -> tuple[bytes, ...]:
    grey, colours = (picture_files.gamma_profile(n, 2.2) for n in (1, 3))
    return picture_files.SRGB, bytes(grey), bytes(colours), *profiles()[:1]


@cache
def pictures() -> tuple[bytes, ...]:
    import tifffile

    grey, colours = picture_files.codes((9, 13), "uint16"), picture_files.codes((9, 13, 3), "uint8")
    planes = np.moveaxis(colours, 2, 0).copy()
    palette = Image.fromarray(colours).quantize(8)
    transparent = Image.fromarray(np.dstack([colours, colours[..., :1]]))
    exif, profile = picture_files.exif().tobytes(), picture_files.SRGB

    def with_tifffile(pixels: np.ndarray, **options: object) -> bytes:
        file = io.BytesIO()
        tifffile.imwrite(file, pixels, metadata=None, **options)
        return file.getvalue()

    def with_pillow(image: Image.Image, format_: str, **options: object) -> bytes:
        file = io.BytesIO()
        image.save(file, format_, **options)
        return file.getvalue()

    image = Image.fromarray(colours)
    png = picture_files.png_bytes(grey)
    return (
        with_tifffile(grey, photometric="minisblack"),
        with_tifffile(grey, photometric="miniswhite", rowsperstrip=2, byteorder=">"),
        with_tifffile(colours, photometric="rgb", bigtiff=True, iccprofile=profile),
        with_tifffile(colours, photometric="rgb", compression="deflate", rowsperstrip=3),
        with_tifffile(colours, photometric="rgb", compression="lzw", tile=(16, 16)),
        with_tifffile(colours / np.float32(255), photometric="rgb", predictor=3,
                      compression="deflate"),
        with_tifffile(planes, photometric="rgb", planarconfig="separate"),
        with_tifffile(colours[..., 0], photometric="minisblack", compression="packbits"),
        with_pillow(image, "TIFF", exif=exif, dpi=(360, 240)),
        png,
        picture_files.with_chunk(png, b"eXIf", exif.removeprefix(b"Exif\0\0")),
        picture_files.with_chunk(png, b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + picture_files.XMP),
        with_pillow(image, "PNG", icc_profile=profile),
        with_pillow(palette, "PNG", transparency=1),
        with_pillow(transparent, "PNG"),
        with_pillow(image, "JPEG", exif=exif, icc_profile=profile, comment=b"fog", dpi=(300, 300)),
        with_pillow(image.convert("L"), "JPEG", progressive=True),
    )  # fmt: skip


def _with_log(use: Callable[[Path, Path], bytes]) -> bytes:
    """Make a log with a reading, a correction, and notes; give what is made of it."""
    from greyscale.records.add_reading import add_readings
    from greyscale.records.adding import add_correction, add_note
    from greyscale.records.print_log import open_log

    with tempfile.TemporaryDirectory(prefix="fuzz-seeds-") as name:
        folder = Path(name)
        db = folder / "log.sqlite3"
        with open_log(db, write=True) as log:
            add_readings(log, logged.reading_file(folder, 1))
            made = add_correction(log, logged.correction_folder(folder / "correction"))
            add_note(log, "Neutral, at last.", about=made.id)
        return use(db, folder)


@cache
def exported_logs() -> tuple[bytes, ...]:
    from greyscale.records.exchange import export_json
    from greyscale.records.print_log import open_log

    def export(db: Path, folder: Path) -> bytes:
        with open_log(db) as log:
            export_json(log, folder / "log.json")
        return (folder / "log.json").read_bytes()

    return (_with_log(export),)


@cache
def databases() -> tuple[bytes, ...]:
    return (_with_log(lambda db, _: db.read_bytes()),)


@cache
def cells() -> tuple[bytes, ...]:
    """What stands in a print log: of each column of each table one value, to be changed."""
    from contextlib import closing

    found = []
    with tempfile.TemporaryDirectory(prefix="fuzz-seeds-") as name:
        path = Path(name) / "log.sqlite3"
        path.write_bytes(databases()[0])
        with closing(sqlite3.connect(path)) as log:
            tables = log.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            for (table,) in tables.fetchall():
                rows = log.execute(f"SELECT rowid, * FROM {table}")
                row = rows.fetchone()
                for (column, *_), value in zip(rows.description, row or (), strict=False):
                    if row is not None and not isinstance(value, bytes):
                        found.append(json.dumps([[table, column, row[0], value]]).encode())
    return tuple(found)
