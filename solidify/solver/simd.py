"""Lanes: as many neighbours of a row, worked on at once in the vector registers of the processor.

What a function here says is what it means, in numpy, and what runs without compiling. Compiled, it is one instruction
on all lanes: given below, next to those of the operators. Registers shorter than that take several; results do not
depend on it. A number among lanes is meant for each of them. Nothing checks where a row ends: rows are longer than what
they hold.

The compiled cache of `solidify.solver.kernels` does not notice a change in this file: touch that one too.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from functools import reduce

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.core.typing import signature
from numba.core.typing.templates import ConcreteTemplate, infer_global
from numba.extending import lower_builtin, models, register_model

__all__ = [
    "LANES",
    "shift_in",
    "movemask",
    "broadcast",
    "least",
    "load",
    "load_some",
    "ctz",
    "most",
    "select",
    "sqrt",
    "store",
    "store_some",
    "top",
    "total",
]

LANES = 8
"""Numbers that are worked on at once."""


def broadcast(x):
    """Lanes that all hold x."""
    return np.full(LANES, x)


def load(row, i):
    """Lanes from place i of a row on."""
    return row[i : i + LANES].copy()


def load_some(row, i, count):
    """The first `count` lanes from place i of a row on, zeros behind them; no more of the row is read."""
    return np.append(row[i : i + count], np.zeros(LANES - count))


def store(row, i, x):
    """Put lanes into a row from place i on."""
    row[i : i + LANES] = x


def store_some(row, i, x, count):
    """Put the first `count` lanes into a row from place i on; no more of the row is written."""
    row[i : i + count] = x[:count]


def shift_in(before, x):
    """Lanes one place later: the last of `before`, then all but the last of x."""
    return np.append(before[-1:], x[:-1])


def select(flags, x, y):
    """Take x where a flag is set and y elsewhere."""
    return np.where(flags, x, y)


def least(x, y):
    """Smaller one; y if either is not a number."""
    return np.where(x < y, x, y)


def most(x, y):
    """Larger one; y if either is not a number."""
    return np.where(x > y, x, y)


def sqrt(x):
    """Square root."""
    return np.sqrt(x)


def movemask(flags):
    """Flags as the bits of a whole number, the first lane in the lowest; 0 if none is set."""
    return int(np.packbits(flags, bitorder="little")[0])


def ctz(flags):
    """Place of the first flag that is set, of flags as bits; there must be one."""
    return int(flags & -flags).bit_length() - 1


def top(x):
    """Largest of the lanes."""
    return np.fmax.reduce(x)


def total(x):
    """Sum of the lanes, from the first to the last."""
    return np.cumsum(x)[-1]


class _Lanes(types.Type):
    """Type of lanes in the compiler, of numbers or of flags."""


_X, _Q = _Lanes("lanes of numbers"), _Lanes("lanes of flags")
_F, _I, _ROW = types.float64, types.intp, types.Array(types.float64, 1, "C")
_INT = ir.IntType(32)
_NUMBERS, _FLAGS, _COUNTS, _ORDER = (
    ir.VectorType(of, LANES) for of in (ir.DoubleType(), ir.IntType(1), ir.IntType(64), _INT)
)


@register_model(_Lanes)
class _Vector(models.PrimitiveModel):
    def __init__(self, manager, kind):
        super().__init__(manager, kind, _NUMBERS if kind == _X else _FLAGS)


def _emitted(function: Callable, returns: types.Type, *cases: tuple[types.Type, ...]) -> Callable:
    """Tell the compiler what a function of lanes is made of; rows come as pointers, numbers among lanes as lanes."""

    def register(emit: Callable) -> Callable:
        def lower(context, builder, given, values):
            ready = []
            for kind, value in zip(given.args, values, strict=True):
                if kind == _ROW:
                    value = context.make_array(kind)(context, builder, value).data
                elif kind == _F and _X in given.args:
                    value = _all(builder, value)
                ready.append(value)
            return emit(builder, *ready)

        signatures = [signature(returns, *takes) for takes in cases]
        infer_global(function)(type("Lanes", (ConcreteTemplate,), {"cases": signatures}))
        for takes in cases:
            lower_builtin(function, *takes)(lower)
        return emit

    return register


def _all(b, x, of=_NUMBERS):
    first = b.insert_element(ir.Constant(of, ir.Undefined), x, _INT(0))
    return b.shuffle_vector(first, first, ir.Constant(_ORDER, [0] * LANES))


def _at(b, row, i):
    return b.bitcast(b.gep(row, [i]), _NUMBERS.as_pointer())


def _built_in(b, name, returns, *values):
    kind = ir.FunctionType(returns, [v.type for v in values])
    return b.call(cgutils.get_or_insert_function(b.module, kind, f"llvm.{name}"), values)


def _some(b, count):
    return b.icmp_signed("<", ir.Constant(_COUNTS, [*range(LANES)]), _all(b, count, _COUNTS))


@_emitted(load_some, _X, (_ROW, _I, _I))
def _load_some(b, row, i, count):
    none = ir.Constant(_NUMBERS, [0.0] * LANES)
    return _built_in(
        b, f"masked.load.v{LANES}f64.p0", _NUMBERS, _at(b, row, i), _INT(8), _some(b, count), none
    )


@_emitted(store_some, types.void, (_ROW, _I, _X, _I))
def _store_some(b, row, i, x, count):
    _built_in(b, f"masked.store.v{LANES}f64.p0", ir.VoidType(), x, _at(b, row, i), _INT(8), _some(b, count))


@_emitted(store, types.void, (_ROW, _I, _X))
def _store(b, row, i, x):
    b.store(x, _at(b, row, i), align=8)


@_emitted(shift_in, _X, (_X, _X))
def _behind(b, before, x):
    return b.shuffle_vector(before, x, ir.Constant(_ORDER, [*range(LANES - 1, 2 * LANES - 1)]))


@_emitted(top, _F, (_X,))
def _top(b, x):
    largest, *others = (b.extract_element(x, _INT(i)) for i in range(LANES))
    for y in others:
        largest = b.select(b.fcmp_ordered(">", y, largest), y, largest)
    return largest


@_emitted(total, _F, (_X,))
def _total(b, x):
    return reduce(b.fadd, (b.extract_element(x, _INT(i)) for i in range(LANES)))


_emitted(broadcast, _X, (_F,))(_all)
_emitted(load, _X, (_ROW, _I))(lambda b, row, i: b.load(_at(b, row, i), align=8))
_emitted(movemask, _I, (_Q,))(lambda b, q: b.zext(b.bitcast(q, ir.IntType(LANES)), ir.IntType(64)))
_emitted(ctz, _I, (_I,))(lambda b, bits: _built_in(b, "cttz.i64", ir.IntType(64), bits, ir.IntType(1)(1)))
_emitted(abs, _X, (_X,))(lambda b, x: _built_in(b, f"fabs.v{LANES}f64", _NUMBERS, x))
_emitted(sqrt, _X, (_X,))(lambda b, x: _built_in(b, f"sqrt.v{LANES}f64", _NUMBERS, x))
_emitted(operator.and_, _Q, (_Q, _Q))(lambda b, p, q: b.and_(p, q))
_emitted(operator.or_, _Q, (_Q, _Q))(lambda b, p, q: b.or_(p, q))
_PAIRS: dict[Callable, tuple[types.Type, Callable]] = {
    operator.add: (_X, lambda b, x, y: b.fadd(x, y)),
    operator.iadd: (_X, lambda b, x, y: b.fadd(x, y)),
    operator.sub: (_X, lambda b, x, y: b.fsub(x, y)),
    operator.mul: (_X, lambda b, x, y: b.fmul(x, y)),
    operator.truediv: (_X, lambda b, x, y: b.fdiv(x, y)),
    operator.lt: (_Q, lambda b, x, y: b.fcmp_ordered("<", x, y)),
    operator.le: (_Q, lambda b, x, y: b.fcmp_ordered("<=", x, y)),
    operator.gt: (_Q, lambda b, x, y: b.fcmp_ordered(">", x, y)),
    operator.ge: (_Q, lambda b, x, y: b.fcmp_ordered(">=", x, y)),
    least: (_X, lambda b, x, y: b.select(b.fcmp_ordered("<", x, y), x, y)),
    most: (_X, lambda b, x, y: b.select(b.fcmp_ordered(">", x, y), x, y)),
}
_TAKES = (_X, _X), (_X, _F), (_F, _X)
for _function, (_returns, _emit) in _PAIRS.items():
    _emitted(_function, _returns, *_TAKES)(_emit)
_emitted(select, _X, *((_Q, *takes) for takes in _TAKES))(lambda b, q, x, y: b.select(q, x, y))
for _function in (least, most):  # of two numbers
    _emitted(_function, _F, (_F, _F))(_PAIRS[_function][1])
