"""Plan a whip: what is wanted, several plans side by side."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
