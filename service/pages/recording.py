"""Record a finished whip: one form, drafts that are never lost."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
