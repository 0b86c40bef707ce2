"""Charts and drawings, as pictures or as the numbers behind them."""

from collections.abc import Callable
from enum import StrEnum
from typing import Annotated, Any, Final

from fastapi import Query, Response
from pydantic import BaseModel

from plaitlog.models.whip import Condition
from plaitlog.service.api.answers import Answer
from plaitlog.service.api.documented import failing, router
from plaitlog.service.api.parameters import Database, Filter, Name, filter_by
from plaitlog.service.database import reading
from plaitlog.service.schemas.charts import CordChartOut, WhipDrawingOut
from plaitlog.service.usecases.listing import one_cord

routes = router("charts")


class Form(StrEnum):
    """As what a chart is given out."""

    svg = "svg"
    png = "png"
    pdf = "pdf"
    json = "json"


MEDIA: Final = {
    Form.svg: "image/svg+xml",
    Form.png: "image/png",
    Form.pdf: "application/pdf",
}
# A picture opened by itself is a page of its own: it may hold styles, and nothing else.
POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
AsForm = Annotated[Form, Query(alias="format", description="As a picture, or as the numbers behind it.")]


class Picture(Response):
    """Not JSON by default."""

    media_type = MEDIA[Form.svg]


def _answers(shape: type[BaseModel], description: str) -> dict[int | str, dict[str, Any]]:
    pictures: dict[str, Any] = {media: {"schema": {"type": "string"}} for media in MEDIA.values()}
    numbers = {"schema": {"$ref": f"#/components/schemas/{shape.__name__}"}}
    return {
        200: {"description": description, "content": {**pictures, "application/json": numbers}},
        **failing(404, 409),
    }


@routes.get(
    "/cords/{name:name}",
    summary="Chart of a cord",
    response_class=Picture,
    responses=_answers(CordChartOut, "Finished diameter against strand count and inner diameter, mm."),
)
def of_cord(
    database: Database,
    name: Name,
    form: AsForm = Form.svg,
    over_mm: Annotated[
        float | None, Query(ge=0, le=200, description="The body plaited over, mm; usual ones without it.")
    ] = None,
    maker: Annotated[Filter, filter_by("Whose hands; unknown ones widen the interval.")] = None,
    condition: Annotated[Condition | None, Query(description="As if rolled where not stated.")] = None,
) -> Response:
    """How thick a plait of one cord comes out, with 90 % intervals and the readings behind it."""
    from plaitlog.service.reports.cord_chart import to_svg
    from plaitlog.service.usecases.pictures.charting import cord_chart

    over = () if over_mm is None else (over_mm,)
    with reading(database) as session:
        one_cord(session, name)  # a part of a name, which a person may type, is not enough here
        chart = cord_chart(session, name, over_mm=over, maker=maker, condition=condition)
    return _given(form, CordChartOut, chart, to_svg)


@routes.get(
    "/whips/{label:name}",
    summary="Drawing of a whip",
    response_class=Picture,
    responses=_answers(WhipDrawingOut, "Layers inside out, drops, readings and predicted diameter, mm."),
)
def of_whip(database: Database, label: Name, form: AsForm = Form.svg) -> Response:
    """Technical drawing of a whip: its layers as bands, readings, and the profile that the fit expects.

    A whip of which no stack is known anywhere cannot be drawn (409); the findings say what is missing.
    """
    from plaitlog.service.reports.whip_drawing import to_svg
    from plaitlog.service.usecases.pictures.drawing import whip_drawing

    with reading(database) as session:
        drawing = whip_drawing(session, label)
    return _given(form, WhipDrawingOut, drawing, to_svg)


def _given(form: Form, shape: type[BaseModel], drawn: Any, to_svg: Callable[[Any], str]) -> Response:
    if form is Form.json:
        return Answer(shape.model_validate(drawn).model_dump(mode="json"))
    from plaitlog.service.reports.pictures import pdf_from_svg, png_from_svg

    picture: str | bytes = to_svg(drawn)
    if form is not Form.svg:
        picture = (png_from_svg if form is Form.png else pdf_from_svg)(str(picture))
    return Response(picture, media_type=MEDIA[form], headers={"Content-Security-Policy": POLICY})
