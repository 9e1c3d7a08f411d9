"""Runs the Python of the guide's chapter on studies, with the program and the module that were built for the tests, and holds
what several processes give against what one gives. Question: where they are. Answer: how much was compared."""

import json
import os
import random
import re
import subprocess
import sys
import tempfile
from pathlib import Path

POINTS = 100_000
FILES = 8


def main():
    question = json.load(sys.stdin)
    chapter = Path(question["chapter"]).read_text(encoding="utf-8")
    environment = os.environ | {
        "PATH": question["programs"] + os.pathsep + os.environ["PATH"],
        "PYTHONPATH": question["modules"],
    }
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        Path("pulse.md").write_text(fence(chapter, "````markdown pulse.md"), encoding="utf-8")
        answer = {
            "points": vary(chapter, environment),
            "tables": mark(chapter, environment),
            "arrays": arrays(chapter, environment),
        }
    json.dump(answer, sys.stdout)


def fence(chapter, opening):
    """What stands in the fence with this opening."""
    close = re.match("`+", opening)[0]
    return chapter.split(f"\n{opening}\n", 1)[1].split(f"\n{close}\n", 1)[0] + "\n"


def run(chapter, name, environment):
    script = Path(f"{name}.py")
    script.write_text(fence(chapter, f"```python {name}"), encoding="utf-8")
    return ran([sys.executable, str(script)], environment)


def ran(command, environment, **settings):
    found = subprocess.run(command, env=environment, capture_output=True, encoding="utf-8", **settings)
    if found.returncode != 0:
        raise RuntimeError(f"{command}: {found.returncode}\n{found.stderr}")
    return found.stdout


def vary(chapter, environment):
    """Lines through Dask against lines through one process; and the values against the module's."""
    dice = random.Random(19)
    points = [
        {"R_t": dice.uniform(1e5, 2e6), "C_t": dice.choice([1e-5, 2.2e-5, 4.7e-5, "33 µF ± 10 %"])}
        for _ in range(POINTS)
    ]
    lines = [json.dumps(point, ensure_ascii=dice.random() < 0.5) + "\n" for point in points]
    Path("points").mkdir()
    for at in range(FILES):
        part = lines[at * POINTS // FILES : (at + 1) * POINTS // FILES]
        Path(f"points/{at}.jsonl").write_text("".join(part), encoding="utf-8")
    run(chapter, "dask_vary", environment)
    found = [line for at in range(FILES) for line in Path(f"results/{at}.jsonl").read_text("utf-8").splitlines()]
    command = ["benchleaf", "vary", "pulse.md", "--values", "t_on,I_c"]
    wanted = ran(command, environment, input="".join(lines)).splitlines()
    assert found == wanted, "several processes and one differ"
    sys.path.insert(0, environment["PYTHONPATH"])
    from benchleaf import Worksheet

    resistance = [point["R_t"] for point in points]
    capacitance = [33e-6 if isinstance(point["C_t"], str) else point["C_t"] for point in points]
    module = Worksheet("pulse.md").vary({"R_t": resistance, "C_t": capacitance}, values=["t_on", "I_c"])
    for at, line in enumerate(found):
        answer = json.loads(line)
        assert answer["values"] == {name: column[at] for name, column in module.items()}, (points[at], line)
        assert (answer["keeps"][0]["at_nominal"] == "broken") == module.broken[9][at], (points[at], line)
    return len(found)


def mark(chapter, environment):
    quiz = "# A quiz\n\n```calc\nR = 10 kΩ\n```\n\n```exercise twice\nask \"Twice?\"\nanswer = 2 * R\n```\n"
    Path("quiz.md").write_text(quiz, encoding="utf-8")
    Path("answers").mkdir()
    for name, answer in [("a", "20 kΩ"), ("b", "20 Ω"), ("c", "5 kΩ")]:
        table = f"learner,exercise,answer\nAda,twice,{answer}\n"
        Path(f"answers/{name}.csv").write_text(table, encoding="utf-8")
    run(chapter, "dask_mark", environment)
    for name in "abc":
        wanted = ran(["benchleaf", "mark", "quiz.md", f"answers/{name}.csv"], environment)
        assert Path(f"answers/{name}.marked.csv").read_text("utf-8") == wanted and "twice" in wanted
    return 3


def arrays(chapter, environment):
    ran([sys.executable, "-c", "import benchleaf, doctest; assert doctest.testmod(benchleaf) == (0, 6)"], environment)
    return run(chapter, "arrays", environment).splitlines()


main()
