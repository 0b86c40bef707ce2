"""A rating session of a whip, with its anchors."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
