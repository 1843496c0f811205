"""All that is served, by address."""

import logging
import sqlite3

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from parchd.contract import Do, StoreError
from parchd.web import link_pages
from parchd.web.api import Api
from parchd.web.links import LinkPages
from parchd.web.openapi import PREFIX, openapi
from parchd.web.problems import Failed
from parchd.web.site import Site

logger = logging.getLogger(__name__)


def application(site: Site) -> Starlette:
    """Make the application of one daemon."""
    links, api = LinkPages(site), Api(site)
    routes = [
        Route("/a/{token}", links.show, methods=["GET"]),
        Route("/a/{token}", links.use, methods=["POST"]),
        Route(f"{PREFIX}/openapi.json", _description, methods=["GET"]),
        Route(f"{PREFIX}/alarms", api.alarms, methods=["GET"]),
        Route(f"{PREFIX}/alarms/history", api.history, methods=["GET"]),
        *(Route(f"{PREFIX}/alarms/{{alarm}}/{do.value}", api.acting(do), methods=["POST"]) for do in Do),
    ]

    async def failed(request: Request, error: Exception) -> Response:
        return _failed(site, request, error)

    errors = (Failed, HTTPException, sqlite3.Error, StoreError)
    return Starlette(routes=routes, exception_handlers=dict.fromkeys(errors, failed))


async def _description(_request: Request) -> Response:
    return JSONResponse(openapi())


def _failed(site: Site, request: Request, error: Exception) -> Response:
    """Answer what cannot be served, as a page or as programs want it."""
    failed = _as_failed(error)
    if request.url.path.startswith("/api/"):
        return failed.response()
    return link_pages.nothing_here(site.known, failed.status)


def _as_failed(error: Exception) -> Failed:
    match error:
        case Failed():
            return error
        case HTTPException(status_code=404):
            return Failed(404, "unknown", "There is nothing at this address.")
        case HTTPException(status_code=405):
            return Failed(405, "invalid", "This cannot be done here.", error.headers or {})
        case HTTPException():
            return Failed(error.status_code, "invalid", str(error.detail))
        case _:
            logger.warning("a page cannot read the journal: %s", error, extra={"event": "web.unreadable"})
            return Failed(503, "busy", "The journal cannot be read now. Ask again.", {"Retry-After": "5"})
