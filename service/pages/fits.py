"""What was learnt from the recorded whips, and what it is worth."""

from fastapi import APIRouter

routes = APIRouter(include_in_schema=False)
