"""Measuring one whip at the bench: a reading at a time."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
