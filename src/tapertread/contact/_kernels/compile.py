"""The one decorator for kernels: compiled without the interpreter lock, kept on disk."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
from llvmlite import ir
from numba.core import cgutils, types
from numba.extending import intrinsic

from tapertread.contact._kernels import cache_folder

_Function = TypeVar("_Function", bound=Callable[..., Any])


def kernel(function: _Function) -> _Function:
    """Compile a kernel; its machine code is kept in `cache_folder`.

    Contraction and reordering are allowed (no NaN or infinity reaches a kernel), so that sums and
    minima use the whole width of the processor.
    """
    settings: Any = numba.config
    before = settings.CACHE_DIR
    settings.CACHE_DIR = str(cache_folder())
    try:
        compiled = numba.njit(
            cache=True,
            nogil=True,
            fastmath={"contract", "reassoc", "nsz", "nnan"},
            error_model="numpy",
        )(function)
    finally:
        settings.CACHE_DIR = before
    return cast("_Function", compiled)


@intrinsic
def smaller(_typing: Any, _left: Any, _right: Any) -> Any:
    """Return the smaller of two float64 as one machine instruction, so that minima vectorise."""
    signature = types.float64(types.float64, types.float64)

    def build(_context: Any, builder: Any, _signature: Any, args: Any) -> Any:
        declared = cgutils.get_or_insert_function(
            builder.module,
            ir.FunctionType(ir.DoubleType(), (ir.DoubleType(), ir.DoubleType())),
            "llvm.minnum.f64",
        )
        return builder.call(declared, args, fastmath=("nnan", "nsz"))

    return signature, build
