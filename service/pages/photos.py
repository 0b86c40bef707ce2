"""Photos of whips: shown, added, removed."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
