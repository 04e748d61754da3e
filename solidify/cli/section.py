"""The verb of the section in two dimensions."""

from __future__ import annotations

from pathlib import Path

import click

from solidify.cli.options import PATH, at_once, example, picture_form, result_path
from solidify.cli.terminal import announced_compiling, deliver, note, say_written

__all__ = ["section"]


@click.command(epilog=example("solidify section bloom.toml -o tuesday-section.h5", "solidify section"))
@click.argument("case_file", metavar="[CASE.toml]", required=False, type=PATH)
@click.option(
    "-o",
    "--output",
    metavar="SECTION.h5",
    type=PATH,
    help="File of the section [default: CASE-section.h5, here].",
)
@click.option("--no-pictures", is_flag=True, help="Write the file of the section only.")
def section(case_file: Path | None, output: Path | None, no_pictures: bool) -> None:
    """March the cross-section, corners included.

    Two-dimensional: a quarter section, or a half where loose and fixed side differ. Prints mid-faces, corner and
    centre, how far the one-dimensional slice of the same case is off, and the corner at the straightener; writes the
    section, the temperatures along the machine and the isotherms at mould exit, straightener and cut-off. Takes slabs
    and rectangles. Without a case file it takes a case of an invented plant that is shipped with the program.
    """
    from solidify.case import demo_case, read_case
    from solidify.storage.section_file import save_section, section_place

    name = case_file.stem if case_file else "bloom"
    case = read_case(case_file) if case_file else demo_case("bloom")
    place = output or Path(f"{name}-section.h5")
    drawn = {} if no_pictures else {end: place.with_name(f"{place.stem}{end}.png") for end in ("", "-maps")}
    at_once(
        lambda: section_place(result_path(place)),
        *(lambda picture=picture: picture_form(picture) for picture in drawn.values()),
    )

    from solidify.report.section import section_text
    from solidify.section.kernel import march_section
    from solidify.section.solve import solve_section

    if not case_file:
        note("no case file given: this is the case shipped with the program, an invented plant")
    with announced_compiling(march_section):
        found = solve_section(case)
    contents: dict[Path, bytes | str] = {}
    if drawn:
        from solidify.plots.pictures import picture_bytes
        from solidify.plots.section_maps import plot_section_maps
        from solidify.plots.section_strand import plot_section_strand

        contents[drawn[""]] = picture_bytes(plot_section_strand(found), "png")
        contents[drawn["-maps"]] = picture_bytes(plot_section_maps(found), "png")
    save_section(found, place)
    deliver(contents, section_text(found))
    say_written([place])
