"""The bench sheet of a plan, and starting to build it."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
