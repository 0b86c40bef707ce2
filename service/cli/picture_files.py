"""A picture written to a file in the kind that its name asks for."""

from pathlib import Path

from plaitlog.models.errors import Finding, InputError

KINDS = (".svg", ".png", ".pdf")


def check_kind(file: Path) -> str:
    """The ending of the file, in small letters; InputError where no picture can be written by it."""
    kind = file.suffix.lower()
    if kind not in KINDS:
        raise InputError(
            Finding("picture-kind", f"{file} says no kind of picture", "end it in .svg, .png or .pdf")
        )
    return kind


def write_picture(file: Path, svg: str) -> None:
    """Write an SVG as it is, or as PNG or PDF, all of it or nothing."""
    from plaitlog.service.cli.exporting import written
    from plaitlog.service.reports.pictures import pdf_from_svg, png_from_svg

    kind = check_kind(file)
    data = svg.encode() if kind == ".svg" else png_from_svg(svg) if kind == ".png" else pdf_from_svg(svg)
    with written(file) as stream:
        stream.write(data)
