"""Applying a correction to a picture's file."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from greyscale import __version__
from greyscale.applying.bands import (
    LUTS,
    BandCorrection,
    Conversion,
    conversion_of,
    lut_3d_of,
    only_grey,
)
from greyscale.base.errors import BadInput
from greyscale.base.files import followed, keep_inputs, whole_stream
from greyscale.base.folders import files_together
from greyscale.base.outputs import refuse_to_replace
from greyscale.correction.as_json import correction_id
from greyscale.correction.record import Correction
from greyscale.pictures.colour_profiles import (
    ColourProfile,
    colour_profile,
    read_profile_file,
    srgb_profile,
)
from greyscale.pictures.formats import fitted, format_of, read_picture
from greyscale.pictures.metadata import own_properties, with_properties, without_colour_space
from greyscale.pictures.picture import Codes, Form, Metadata, Picture
from greyscale.readings.layout import write_layout

# Where corrected pictures go.


def targets(images: Sequence[Path], out: str) -> tuple[Path, ...]:
    """Return the file that each picture's corrected copy goes to.

    Parameters
    ----------
    out
        A file for a single picture; a folder, in which names are kept, for several, or where it
        is one, or ends as no file does.

    Raises
    ------
    BadInput
        If several pictures would go to one file.

    Examples
    --------
    >>> [str(path) for path in targets([Path("fog.tif"), Path("scans/quay.png")], "print")]
    ['print/fog.tif', 'print/quay.png']
    >>> [str(path) for path in targets([Path("fog.tif")], "fog-cotton.tif")]
    ['fog-cotton.tif']
    """
    path = Path(out)
    ends_as_folder = out.endswith(("/", os.sep)) or not path.suffix
    if len(images) == 1 and not path.is_dir() and not ends_as_folder:
        return (path,)
    if path.is_file():
        raise BadInput("this is a file; several pictures need a folder to go to", out)
    taken: dict[str, Path] = {}
    for image in images:
        other = taken.setdefault(image.name.casefold(), image)
        if other is not image:
            raise BadInput(
                f"would go to the same file as {other}; correct them one by one, or rename one",
                image,
            )
    return tuple(path / image.name for image in images)


# The note of a correction in a picture that went through it, and how such a picture is known.

_NAME, _ID = "Correction", "CorrectionID"


class Gone(NamedTuple):
    """The correction that a picture went through: its name, and what `correction_id` gives."""

    name: str
    identifier: str


def gone_through(picture: Picture) -> Gone | None:
    """The correction that a picture says it went through."""
    own = own_properties(picture.form.metadata.xmp)
    return Gone(own[_NAME], own.get(_ID, "")) if _NAME in own else None


def refuse_corrected(picture: Picture) -> None:
    """Refuse a picture that went through a correction before.

    Raises
    ------
    BadInput
        Naming that correction.
    """
    earlier = gone_through(picture)
    if earlier is not None:
        raise BadInput(
            f"the picture has gone through the correction '{earlier.name}' already; take the "
            "picture from before, or give --force to correct it twice",
            picture.path,
        )


def noted(
    metadata: Metadata, correction: Correction, conversion: Conversion, lut: str, srgb: bool
) -> Metadata:
    """Return what a corrected picture says of itself: all that it said, and the correction.

    Parameters
    ----------
    lut
        "1d" or "3d".
    srgb
        Whether the corrected values are sRGB; else EXIF must not say so.
    """
    properties = {
        _NAME: correction.name,
        _ID: correction_id(correction),
        "Round": str(correction.round),
        "Lut": lut.upper(),
        "ValuesFor": correction.space,
        "ConvertedFrom": conversion.source,
        "Version": __version__,
    }
    exif = metadata.exif
    if exif is not None and not srgb:
        exif = without_colour_space(exif)
    return replace(metadata, exif=exif, xmp=with_properties(metadata.xmp, properties))


# The working space that a correction's values belong to, as a profile to be embedded.

DEVICE = "device"


def working_space(
    correction: Correction, embedded: bytes | None, file: Path | None = None
) -> ColourProfile | None:
    """Return the profile of the space that a correction was made for; None for a printer's values.

    It is looked for in `file`, in a file that the correction names as its space, and in the
    picture itself, if that carries a profile of that name. sRGB is known.

    Parameters
    ----------
    correction
        The correction; its `path` names the space.
    file
        An ICC profile, where the name alone does not lead to it.

    Raises
    ------
    BadInput
        If the space cannot be found, or is not one of R, G, B; if a file is given, and the
        correction is for a printer's own values.
    """
    name = correction.space
    if name == DEVICE:
        if file is not None:
            raise BadInput(
                "the correction is for values that go straight to the printer, not for a working "
                "space; leave out --space",
                file,
            )
        return None
    found = _found(name, embedded, file)
    if found is None:
        raise BadInput(
            f"the correction is for values of '{name}', and neither it nor the picture holds that "
            "profile; give its file with --space",
        )
    return _of_colours(found)


def doubt_of_space(name: str) -> str | None:
    """Say so where a working space is known by a name alone, which only pictures may tell more of.

    Raises
    ------
    BadInput
        For the file of a profile that is not one of R, G, B.
    """
    if name == DEVICE:
        return None
    found = _found(name, None, None)
    if found is None:
        return (
            f"The working space '{name}' is neither sRGB nor the file of a profile: pictures sent "
            "through this correction must hold a profile of that name, or 'apply' be given its "
            "file with --space."
        )
    _of_colours(found)
    return None


def _of_colours(space: ColourProfile) -> ColourProfile:
    if space.colours != 3:
        raise BadInput(f"the working space '{space.name}' is for grey; give one of R, G and B")
    return space


def _found(name: str, embedded: bytes | None, file: Path | None) -> ColourProfile | None:
    for path in (file, Path(name)):
        if path is not None and (path is file or path.is_file()):
            return colour_profile(read_profile_file(path), path, "give one of R, G and B values")
    if embedded is not None:
        own = colour_profile(embedded, "the picture's profile")
        if _plain(own.name) == _plain(name):
            return own
    return srgb_profile() if _plain(name) == "srgb" else None


def _plain(name: str) -> str:
    return re.sub(r"[^\w]|_", "", name).casefold()


@dataclass(frozen=True)
class ApplyOptions:
    """How a correction is applied.

    Attributes
    ----------
    encoding
        What the values of a picture stand for that does not say so itself: a name, or the path
        of an ICC profile.
    space
        An ICC profile of the working space that the correction is for, where it is for one and
        its name alone does not lead to it.
    lut
        "1d", the curve; or "3d", the correction's 3D LUT.
    seed
        Of the dither of 8 bits.
    force
        Apply it even to a picture that went through a correction before.
    strip
        Put a control strip on this side, one of `greyscale.applying.strip.SIDES`; None for none.
    """

    encoding: str | None = None
    space: Path | None = None
    lut: str = "1d"
    seed: int = 1
    force: bool = False
    strip: str | None = None


@dataclass(frozen=True)
class Applied:
    """What was done to a picture.

    Attributes
    ----------
    width, height, bits
        Its size in pixels, and bits of each channel.
    source
        What its values stood for: the name of a profile or of an encoding.
    unchanged
        Whether they were encoded as the correction expects already.
    encoding
        That encoding.
    profile
        The name of the profile embedded; None for a printer's own values.
    layout
        Where the layout of the control strip is; None without one.
    """

    path: Path
    width: int
    height: int
    bits: int
    source: str
    unchanged: bool
    encoding: str
    profile: str | None
    remarks: tuple[str, ...]
    layout: Path | None = None


def apply_correction(
    correction: Correction,
    folder: Path,
    path: Path,
    target: Path,
    options: ApplyOptions | None = None,
    advance: Callable[[float], None] | None = None,
) -> Applied:
    """Send a picture through a correction, band by band, into a new file.

    Parameters
    ----------
    correction, folder
        The correction, and the folder it was read from.
    target
        Where the corrected one goes; its ending says in which format.
    advance
        Called with the share of the work done, from 0 to 1.

    Raises
    ------
    BadInput
        If the picture cannot be used, or went through a correction before; if it does not say
        what its values stand for; if the target cannot be written or is the picture itself. The
        target is written whole or not at all.
    """
    wanted = options or ApplyOptions()
    if wanted.lut not in LUTS:
        raise BadInput(f"there is no LUT '{wanted.lut}'; take one of {', '.join(LUTS)}", "--lut")
    # A print and the layout of its strip belong together: a link is followed, as for one file.
    place = followed(target)
    layout = None
    if wanted.strip is not None:
        # Charts and their drawing are for a control strip alone.
        from greyscale.applying.strip import layout_path, strip_of
        from greyscale.charts.picture_tones import picture_tones

        layout = layout_path(place)
    keep_inputs([path], [target, *([] if layout is None else [layout])])
    if layout is not None:
        refuse_to_replace(layout)
    picture = read_picture(path)
    output = format_of(target)
    if not wanted.force:
        refuse_corrected(picture)
    space = working_space(correction, picture.form.profile, wanted.space)
    conversion = conversion_of(picture, correction.picture_encoding, wanted.encoding, space)
    form = fitted(_form(picture, correction, conversion, space, wanted.lut), output, target)
    through = BandCorrection(
        correction.curve,
        conversion,
        picture.form,
        form,
        np.random.default_rng(wanted.seed),
        lut_3d_of(folder) if wanted.lut == "3d" else None,
    )
    bands, grown = _corrected(picture, through, advance), form
    strip = None
    if wanted.strip is not None:
        tones = picture_tones(picture)
        strip = strip_of(wanted.strip, form, tones, correction, conversion)
        bands = strip.beside(form, through.of_levels(strip.levels), bands)
        across, down = (0, strip.depth) if strip.is_row else (strip.depth, 0)
        grown = replace(form, width=form.width + across, height=form.height + down)
    if strip is None or layout is None:
        with whole_stream(target) as file:
            output.write(file, grown, bands)
    else:
        with files_together(place.parent) as fresh:
            with (fresh / place.name).open("w+b") as file:
                output.write(file, grown, bands)
            write_layout(strip.layout(target.stem, correction), fresh / layout.name)
    form = grown
    return Applied(
        path=target,
        width=form.width,
        height=form.height,
        bits=form.kind.itemsize * 8,
        source=conversion.source,
        unchanged=conversion.unchanged,
        encoding=correction.aim,
        profile=None if space is None else space.name,
        remarks=(*picture.remarks, *_remarks(picture, wanted, through)),
        layout=layout,
    )


def _form(
    picture: Picture,
    correction: Correction,
    conversion: Conversion,
    space: ColourProfile | None,
    lut: str,
) -> Form:
    """Say how the corrected picture is to be: R, G, B, unless grey is enough."""
    stays_grey = picture.form.colours == 1 and space is None and lut == "1d"
    srgb = space is not None and space.data == srgb_profile().data
    return replace(
        picture.form,
        colours=1 if stays_grey and only_grey(correction.curve) else 3,
        profile=None if space is None else space.data,
        metadata=noted(picture.form.metadata, correction, conversion, lut, srgb),
    )


def _corrected(
    picture: Picture, through: BandCorrection, advance: Callable[[float], None] | None
) -> Iterator[Codes]:
    done = 0
    for band in picture.bands():
        yield through(band)
        done += len(band)
        if advance is not None:
            advance(done / picture.form.height)


def _remarks(picture: Picture, options: ApplyOptions, through: BandCorrection) -> Iterator[str]:
    says_itself = picture.form.profile is not None or picture.encoding is not None
    if options.encoding is not None and says_itself:
        yield (
            f"The picture itself says how it is encoded ({through.conversion.source}); that was "
            "taken, not --encoding."
        )
    if through.coloured and options.lut == "1d":
        yield (
            "The picture holds colour, and each channel was corrected by itself, as on the grey "
            "axis; --lut 3d leaves colours alone."
        )
