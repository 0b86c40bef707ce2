"""The list of whips: search, filters, chosen columns, a page at a time."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
