"""The web application, put together from its parts."""
