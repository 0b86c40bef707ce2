"""What goes with good ratings."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
