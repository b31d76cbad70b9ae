"""Runs the examples of a page and compares tables with the lines they come from.

read_tables.py PAGE, in a folder with `clips/` and with `underfoot` on PATH.
"""

import glob
import json
import os
import re
import subprocess
import sys

import duckdb
import polars


def run(call, codes, **more):
    done = subprocess.run(call, capture_output=True, text=True, **more)
    assert done.returncode in codes, (call, done.returncode, done.stderr)
    return done


def blocks(page, language):
    found = re.findall(rf"^```{language}\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    return [block for block in found if "# not run here" not in block]


def wanted(lines):
    """Rows by way of the lines: some of each kind of value."""
    for line in lines:
        clock = line["clock"] or {}
        for jump in line["jumps"] or [None]:
            j = jump or {}
            lo, hi = j.get("height_bounds_m", (None, None))
            yield {
                "clip": line["clip"],
                "clip_jumps": len(line["jumps"]),
                "clip_error": (line["error"] or {}).get("message"),
                "clip_warnings": line["warnings"],
                "clock_capture_fps": clock.get("capture_fps"),
                "clock_dropped": clock.get("dropped"),
                "number": j.get("number"),
                "kind": j.get("kind"),
                "takeoff_s": j.get("takeoff_s"),
                "flight_time_s": j.get("flight_time_s"),
                "height_m": j.get("height_m"),
                "height_bounds_lo_m": lo,
                "height_bounds_hi_m": hi,
                "height_u_m": j.get("height_u_m"),
                "rsi_m_s": j.get("rsi_m_s"),
                "flags": j.get("flags", []),
                "budget": j.get("budget", []),
            }


def compare(table, lines):
    lines = [json.loads(line) for line in open(lines)]
    rows = list(wanted(lines))
    names = list(rows[0])
    by_duckdb = duckdb.sql(f"SELECT {', '.join(names)} FROM '{table}'").fetchall()
    by_polars = polars.read_parquet(table).select(names).to_dicts()
    assert [dict(zip(names, row)) for row in by_duckdb] == rows, "DuckDB reads something else"
    assert by_polars == rows, "Polars reads something else"
    schema = duckdb.sql(
        f"SELECT value FROM parquet_kv_metadata('{table}') WHERE key = 'underfoot.schema'"
    ).fetchall()
    assert schema == [(b"1",)], schema
    return rows


def main():
    page = open(sys.argv[1]).read()
    (first,) = blocks(page, "sh")
    run(["sh", "-c", first], [2])
    rows = compare("results.parquet", "results.jsonl")
    assert len(rows) == 5 and sum(row["height_m"] is not None for row in rows) == 4, rows

    (slurm,) = blocks(page, "bash")
    open("jumps.sh", "w").write(slurm)
    for part in range(1, 5):
        environment = os.environ | {"SLURM_ARRAY_TASK_ID": str(part)}
        run(["bash", "jumps.sh"], [0, 2], env=environment)
    parts = sorted(line for part in glob.glob("part-*.jsonl") for line in open(part))
    assert parts == sorted(open("results.jsonl")), "the parts are not the whole"
    count = duckdb.sql("SELECT count(*) FROM 'part-*.parquet'").fetchall()
    assert count == [(len(rows),)], count

    for query in blocks(page, "sql"):
        answer = duckdb.sql(query)
        print(query.splitlines()[0], answer, sep="\n")
        assert answer.fetchall(), query
    shared = {}
    for block in blocks(page, "python"):
        exec(compile(block, sys.argv[1], "exec"), shared)
    collected = [json.loads(line) for line in open("collected.jsonl")]
    whole = [json.loads(line) for line in open("results.jsonl")]
    for one, other in zip(collected, whole, strict=True):
        assert one["clip"].endswith(other.pop("clip"))
        del one["clip"], other["run"]
        assert one == other, (one, other)
    print("All examples ran; DuckDB, Polars and the lines agree.")


main()
