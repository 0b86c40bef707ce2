"""``plaitlog cords``: list them, add one."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from plaitlog.service.cli.cord_questions import asked, settled
from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, finding_json, findings, result, say, table
from plaitlog.service.cli.workshop import engine, reading

if TYPE_CHECKING:
    from plaitlog.service.usecases.cords.worth import Shown
    from plaitlog.service.usecases.predicting import InForce


def register(app: typer.Typer) -> None:
    group = typer.Typer(help="List the cords; add one.", invoke_without_command=True)
    group.callback()(cords)
    group.command("add")(add)
    app.add_typer(group, name="cords")


def cords(context: typer.Context, json: AsJson = False, database: Database = None) -> None:
    """List every cord with what is measured and what is not yet; ``cords add`` adds one."""
    if context.invoked_subcommand is not None:
        context.obj = database or context.obj
        return
    from plaitlog.service.usecases.cords.measures import LACKS, lacks
    from plaitlog.service.usecases.workshop import cords_with_stock

    with reading(context, database) as session:
        found = cords_with_stock(session)
    if json:
        from plaitlog.service.usecases.to_records import cord_record

        as_json(
            [
                {
                    **cord_record(line.cord),
                    "whips": line.whips,
                    "metres": line.metres,
                    "lacks": lacks(line.cord),
                }
                for line in found
            ]
        )
        return
    if not found:
        say("No cord is recorded yet: plaitlog cords add")
        return
    table(
        ("cord", "material", "made", "mm", "pressed", "flat", "g/m", "whips", "in stock", "not measured yet"),
        [
            (
                line.cord.name,
                line.cord.material,
                line.cord.construction,
                _number(line.cord.diameter_mm),
                _number(line.cord.pressed_mm),
                _number(line.cord.flat_width_mm),
                _number(line.cord.linear_density_g_per_m),
                line.whips,
                ", ".join(_stock(stock.metres, stock.colour) for stock in line.stock),
                ", ".join(LACKS[key] for key in lacks(line.cord)),
            )
            for line in found
        ],
        right=("mm", "pressed", "flat", "g/m", "whips"),
    )


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _stock(metres: float | None, colour: str | None) -> str:
    return " ".join(filter(None, ("" if metres is None else f"{metres:g} m", colour))) or "some"


def add(
    context: typer.Context,
    name: Annotated[str | None, typer.Option(help="Its name, unique in the workshop.")] = None,
    material: Annotated[str | None, typer.Option(help="nylon, polyester, kangaroo leather, ...")] = None,
    construction: Annotated[str | None, typer.Option(help="cored, gutted or solid.")] = None,
    weighed_length: Annotated[str | None, typer.Option(help="Length weighed; m without a unit.")] = None,
    grams: Annotated[str | None, typer.Option(help="What that length weighs; g without a unit.")] = None,
    linear_density: Annotated[str | None, typer.Option(help="Instead: 7.2 g/m, 225 ft/lb.")] = None,
    ten_strands: Annotated[str | None, typer.Option(help="Width of ten strands side by side; mm.")] = None,
    flat_width: Annotated[str | None, typer.Option(help="Instead: flat width of one strand; mm.")] = None,
    touching: Annotated[str | None, typer.Option(help="Calipers just touching; mm.")] = None,
    pressed: Annotated[str | None, typer.Option(help="Calipers pressed shut; mm.")] = None,
    notes: Annotated[str | None, typer.Option(help="Anything else.")] = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """Add a cord. Without options it asks for them; what is not known is passed over with Enter.

    Then it says what each measurement that is missing would buy.
    """
    from plaitlog.service.database import reading as reading_of
    from plaitlog.service.database import write
    from plaitlog.service.usecases.cords.measures import OnTheBench, cord_as_measured
    from plaitlog.service.usecases.cords.worth import what_it_buys
    from plaitlog.service.usecases.importing import take_records
    from plaitlog.service.usecases.predicting import fit_in_force
    from plaitlog.service.usecases.workshop import cords_by_name

    bench = OnTheBench(
        name=name or "",
        material=material or "",
        construction=construction or "",
        weighed_length=weighed_length,
        grams=grams,
        linear_density=linear_density,
        ten_strands=ten_strands,
        flat_width=flat_width,
        touching=touching,
        pressed=pressed,
        notes=notes,
    )
    found = engine(context, database)
    with reading_of(found) as session:
        taken = cords_by_name(session)
    if not (bench.name and bench.material and bench.construction):
        bench = asked(bench, taken)
    bench = settled(bench, taken)
    record, remarks = cord_as_measured(bench)
    report = write(found, lambda session: take_records(session, [record]))
    remarks += tuple(finding for row in report.rows for finding in row.findings)
    with reading_of(found) as session:
        cord = cords_by_name(session)[bench.name]
        in_force = fit_in_force(session)
    shown = what_it_buys(in_force, cord)
    if json:
        as_json({**record, "findings": [finding_json(x) for x in remarks], "worth": shown.to_json()})
        return
    _print(record, shown, in_force)
    findings(remarks)


def _print(record: dict[str, Any], shown: "Shown", in_force: "InForce") -> None:
    result(f"{record['name']} is in the workshop.")
    if "linear_density_g_per_m" in record:
        result(f"  linear density {record['linear_density_g_per_m']:.2f} g/m")
    if "flat_width_mm" in record:
        result(f"  flat width {record['flat_width_mm']:.2f} mm")
    told = shown.prediction
    result(
        f"{shown.core} strands of it in the core under {shown.overlay} in the overlay: "
        f"{told.diameter_mm:.1f} mm (90 %: {told.low_90_mm:.1f} to {told.high_90_mm:.1f})"
    )
    result(f"  {in_force.rests_on}")
    if shown.gains:
        result("What it lacks, and what measuring would buy there:")
    for gain in shown.gains:
        result(f"  {gain.how}: {gain.words}")
