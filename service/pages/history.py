"""The history of changes, undo and redo."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
