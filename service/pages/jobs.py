"""Work that takes long: its progress, and its end."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
