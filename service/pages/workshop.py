"""The workshop as a whole: import, export, backups, settings, history."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
