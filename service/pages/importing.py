"""Import a table: paste or file, mapping, preview, one undo."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
