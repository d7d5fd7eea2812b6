"""The layered layout of the vendored elkjs, run inside this process by a small JavaScript engine.

The file is fetched while the package is built (`hatch_build.py`); where it is missing, `engine` gives None.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from functools import lru_cache
from importlib import resources
from typing import Any

FILE = "vendor/elk.bundled.js"
STACK_BYTES = 2_000_000  # the layout recurses; the engine's default of 256 kB is short, a thread of Python has 8 MB

# The file expects a browser or Node: timers become a list that is worked off by hand; no worker, no console.
BEFORE = """
var global = globalThis, self = globalThis, module = {exports: {}}, exports = module.exports, waiting = [];
var console = {log: function () {}, warn: function () {}, error: function () {}};
function setTimeout(act) { waiting.push(act); return waiting.length; }
function clearTimeout() {}
"""
AFTER = """
var elk = new module.exports(), answer, problem;
function start(graph) {
  answer = problem = "";
  elk.layout(JSON.parse(graph)).then(
    function (done) { answer = JSON.stringify(done); },
    function (error) { problem = String(error && error.message || error); });
}
function turn() { var now = waiting; waiting = []; now.forEach(function (act) { act(); }); return now.length; }
"""


class NotLaidOut(Exception):
    """The engine gave no layout for this graph."""


@lru_cache(maxsize=1)
def engine() -> Callable[[dict[str, Any]], dict[str, Any]] | None:
    """What lays a graph of elk's JSON form out; None when the vendored file or the JavaScript engine is missing."""
    file = resources.files("probewright.drawing").joinpath(FILE)
    if not file.is_file():
        return None
    try:
        import quickjs  # type: ignore[import-untyped]
    except ImportError:
        return None
    context, lock = quickjs.Context(), threading.Lock()
    context.set_max_stack_size(STACK_BYTES)
    for text in (BEFORE, file.read_text(encoding="utf-8"), AFTER):
        context.eval(text)

    def lay_out(graph: dict[str, Any]) -> dict[str, Any]:
        with lock:  # one context, one caller at a time
            try:
                context.get("start")(json.dumps(graph))
                _work_off(context)
                answer, problem = context.get("answer"), context.get("problem")
            except quickjs.JSException as failure:
                raise NotLaidOut(str(failure)) from failure
        if not answer:
            raise NotLaidOut(problem or "no answer")
        return dict(json.loads(answer))

    return lay_out


def _work_off(context: Any) -> None:
    """Run promises and timers until nothing waits."""
    while True:
        while context.execute_pending_job():
            pass
        if not context.eval("turn()"):
            return
