"""Blank lengths, bars to buy, spares and a saw list for frames welded from round tube.

From Python: :func:`read_job`, :func:`buying_options`, :func:`measuring_first`, :func:`make_plan`,
:func:`write_saw_list`, :func:`write_pack`, :func:`recut`, :func:`check` and :func:`write_drawings`, all described in
:mod:`cutplan.api`.
"""

__version__ = "0.2.0"

TYPE_CHECKING = False
"""As in :mod:`typing`, which takes longer to load than all that is loaded before Ctrl-C is seen to."""
if TYPE_CHECKING:
    from cutplan.api import (
        buying_options,
        check,
        make_plan,
        measuring_first,
        read_job,
        recut,
        write_drawings,
        write_pack,
        write_saw_list,
    )

__all__ = [
    "__version__",
    "buying_options",
    "check",
    "make_plan",
    "measuring_first",
    "read_job",
    "recut",
    "write_drawings",
    "write_pack",
    "write_saw_list",
]


def __getattr__(name: str) -> object:
    """Loaded when first asked for, so that ``import cutplan`` stays quick."""
    if name in __all__:
        from cutplan import api

        return getattr(api, name)
    raise AttributeError(f"module 'cutplan' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
