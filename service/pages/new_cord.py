"""Predict a cord that was never plaited, from calipers, a scale and a ruler."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
