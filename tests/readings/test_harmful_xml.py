"""XML that can do harm is refused before any other parser sees it, however it is disguised."""

from __future__ import annotations

from pathlib import Path

import pytest
from fuzz import seeds
from fuzz.watch import REFUSED, outcome, watch_files

from greyscale.base.errors import BadInput
from greyscale.pictures.metadata import own_properties, with_properties
from greyscale.readings.formats import read_all
from greyscale.readings.lamps import find_light
from greyscale.readings.source_file import DEEPEST, Outline

LAUGHS = "".join(f'<!ENTITY a{k + 1} "{f"&a{k};" * 10}">' for k in range(9))
EXPANSION = f'<!DOCTYPE x [<!ENTITY a0 "ha">{LAUGHS}]>'
OUTSIDE = '<!DOCTYPE x [<!ENTITY a9 SYSTEM "file:///etc/hostname">]>'
PARAMETER = '<!DOCTYPE x [<!ENTITY % p SYSTEM "http://example.org/x.dtd"> %p;]>'
EXTERNAL = '<!DOCTYPE x SYSTEM "http://example.org/x.dtd">'
DECLARATIONS = [EXPANSION, OUTSIDE, PARAMETER, EXTERNAL]

ROOTS = {
    ".spdx": ('<IESTM2714 xmlns="iestm2714" version="1.0"><Header><Description>', "</Description>"
              "</Header></IESTM2714>"),
    ".cxf": ('<CxF xmlns="http://colorexchangeformat.com/CxF3-core"><FileInformation><Creator>',
             "</Creator></FileInformation></CxF>"),
}  # fmt: skip

RDF = '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"></rdf:RDF>'

# In UTF-16 these two characters are the bytes of ASCII by which a lamp's file is known.
KNOWN_BY = b"IESTM2714 ".decode("utf-16-le")


def reader_of(ending):
    return (lambda path: find_light(str(path))) if ending == ".spdx" else read_all


@pytest.mark.parametrize("declared", DECLARATIONS, ids=["laughs", "file", "parameter", "dtd"])
@pytest.mark.parametrize("ending", ROOTS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "latin-1"])
def test_entities_and_document_types(ending, encoding, declared, tmp_path: Path) -> None:
    before, after = ROOTS[ending]
    said = "" if encoding == "utf-16-be" else f' encoding="{encoding.removesuffix("-sig")}"'
    text = f'<?xml version="1.0"{said}?><!-- {KNOWN_BY} -->{declared}{before}&a9;{after}'
    path = tmp_path / f"a{ending}"
    mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
    # Latin-1 cannot hold the marks of the other encodings.
    plain = text if encoding.startswith("utf-16") else text.replace(KNOWN_BY, "IESTM2714")
    path.write_bytes(mark + plain.encode(encoding))
    with pytest.raises(BadInput) as refusal:
        reader_of(ending)(path)
    # UTF-16 of the other order is not taken for a lamp at all, and so never parsed.
    assert "document type" in str(refusal.value) or "not a spectrum" in str(refusal.value)


def test_an_encoding_that_hides_ascii(tmp_path: Path) -> None:
    """EBCDIC after a declaration in ASCII: nothing in the bytes spells DOCTYPE."""
    before, after = ROOTS[".spdx"]
    declared = '<?xml version="1.0" encoding="cp037"?>'
    body = f"{OUTSIDE}{before}&a9;{after}"
    path = tmp_path / "a.spdx"
    path.write_bytes(declared.encode() + b"<!-- IESTM2714 -->" + body.encode("cp037"))
    with pytest.raises(BadInput):
        find_light(str(path))


@pytest.mark.parametrize("encoding", ["utf-7", "no-such-thing", "shift_jis", "idna", "utf-32"])
def test_encodings_that_cannot_be_read(encoding: str) -> None:
    with pytest.raises(BadInput, match=r"encoding|well-formed"):
        Outline(f'<?xml version="1.0" encoding="{encoding}"?><a>\u00e9</a>'.encode(), "a.xml")


@pytest.mark.parametrize("depth", [DEEPEST + 1, 200_000])
@pytest.mark.parametrize("ending", ROOTS)
def test_deep_nesting(ending: str, depth: int, tmp_path: Path) -> None:
    before, after = ROOTS[ending]
    path = tmp_path / f"a{ending}"
    path.write_text(f"{before}{'<b>' * depth}{'</b>' * depth}{after}", encoding="utf-8")
    with pytest.raises(BadInput, match="nested deeper"):
        reader_of(ending)(path)


XINCLUDE = 'xmlns:xi="http://www.w3.org/2001/XInclude"'
SCHEMA = 'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="x {0}"'
POINTERS = {
    "inclusion": '<xi:include {x} href="{0}" parse="text"/>'.replace("{x}", XINCLUDE),
    "schema": f"<b {SCHEMA}/>",
    "style sheet": '<?xml-stylesheet type="text/xsl" href="{0}"?>',
}


@pytest.mark.parametrize("pointer", POINTERS)
@pytest.mark.parametrize("place", ["secret.txt", "file://{folder}/secret.txt"])
def test_what_xml_points_to_is_not_read(pointer: str, place: str, tmp_path: Path) -> None:
    """Neither inclusions nor schemas nor style sheets are followed, to a file or to the net."""
    secret = tmp_path / "elsewhere" / "secret.txt"
    secret.parent.mkdir()
    secret.write_text("secret", encoding="utf-8")
    told = POINTERS[pointer].format(place.format(folder=secret.parent))
    watch_files(tmp_path / "watched")
    (tmp_path / "watched").mkdir()
    for seed, end, ending in (
        (seeds.cxf3()[0], b"</cc:FileInformation>", ".cxf"),
        (seeds.lamps()[0], b"</Header>", ".spdx"),
    ):
        path = tmp_path / "watched" / f"a{ending}"
        assert end in seed
        # What a reader imports, it imports now.
        path.write_bytes(seed)
        reader_of(ending)(path)
        path.write_bytes(seed.replace(end, told.encode() + end))
        found = outcome(reader_of(ending), path)
        assert found is None or found.startswith(REFUSED), found
        assert "secret" not in (found or "").replace("secret.txt", "")


def test_a_pictures_packet_that_is_nested_deep_is_made_anew() -> None:
    packet = f"{'<b>' * (DEEPEST + 1)}{RDF}{'</b>' * (DEEPEST + 1)}".encode()
    assert own_properties(packet) == {}
    made = with_properties(packet, {"Correction": "fog"})
    assert b"<b>" not in made
    assert own_properties(made) == {"Correction": "fog"}


@pytest.mark.parametrize("declared", DECLARATIONS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_pictures_packet_is_made_anew(declared: str, encoding: str) -> None:
    packet = f"{declared}{RDF}".replace("><", ">&a9;<").encode(encoding)
    assert own_properties(packet) == {}
    made = with_properties(packet, {"Correction": "fog"})
    assert b"DOCTYPE" not in made
    assert own_properties(made) == {"Correction": "fog"}
