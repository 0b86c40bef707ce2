"""Editing and removing what is recorded of a whip."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
