"""Files for editors, held against what reads such files: metadata against their schema, and the grammar's patterns against
lines of worksheets. Reads {"schema", "grammar", "metadata": [TOML, ...], "lines": [text, ...]}; answers {"valid": [...],
"scopes": [[[text, scope], ...], ...]}."""

import datetime
import json
import re
import sys
import tomllib

import jsonschema


def plain(value):
    """TOML's dates as texts, which they count as."""
    if isinstance(value, (datetime.date, datetime.time)):
        return str(value)
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    return [plain(inner) for inner in value] if isinstance(value, list) else value


def patterns(node):
    """Every regular expression of a grammar."""
    if isinstance(node, dict):
        for key, inner in node.items():
            if key in ("match", "begin", "end") and isinstance(inner, str):
                # The end of a fence names the signs that it began with.
                yield inner.replace("\\1", "```") if key == "end" else inner
            else:
                yield from patterns(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from patterns(inner)


def scopes(rules, line):
    """What the rules say of a line, from left to right: at each place the rule that matches first, as editors do it."""
    found, at = [], 0
    while at < len(line):
        hits = [(match.start(), i, match) for i, rule in enumerate(rules) if (match := re.compile(rule["match"]).search(line, at)) and match.end() > at]
        if not hits:
            break
        _, number, match = min(hits, key=lambda hit: hit[:2])
        rule = rules[number]
        parts = {0: {"name": rule["name"]}} if "name" in rule else {int(group): part for group, part in rule["captures"].items()}
        found += [[match.group(group).strip(), part["name"]] for group, part in parts.items() if match.group(group)]
        at = match.end()
    return found


asked = json.load(sys.stdin)
jsonschema.Draft202012Validator.check_schema(asked["schema"])
validator = jsonschema.Draft202012Validator(asked["schema"])
for pattern in patterns(asked["grammar"]):
    re.compile(pattern)
rules = asked["grammar"]["repository"]["language"]["patterns"]
json.dump(
    {
        "valid": [validator.is_valid(plain(tomllib.loads(text))) for text in asked["metadata"]],
        "scopes": [scopes(rules, line) for line in asked["lines"]],
    },
    sys.stdout,
)
