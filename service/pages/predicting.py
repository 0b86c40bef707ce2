"""Predict the diameter of a stack, layer by layer, and how many strands give a diameter."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
