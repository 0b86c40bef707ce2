"""Advice on a test plait of a cord."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
