"""Whether the service is up, and what it is still busy with."""

from __future__ import annotations

from importlib import metadata

from fastapi import APIRouter, Request

from service.schemas import Health

router = APIRouter(prefix="/api", tags=["health"])


def version() -> str:
    """The installed version of grainfold, or "unknown" in a bare checkout."""
    try:
        return metadata.version("grainfold")
    except metadata.PackageNotFoundError:
        return "unknown"


@router.get("/health")
def health(request: Request) -> Health:
    """State of the service: the engine compiles its kernels once, on the first start."""
    return Health(
        name="grainfold",
        version=version(),
        engine=request.app.state.engine,
        data_dir_ok=request.app.state.data_dir_ok(),
    )
