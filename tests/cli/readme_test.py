#!/usr/bin/env python3
"""The tour of README.md is true: its files are written, its commands run in order, and what they print is what it shows.

Usage: readme_test.py README.md FOLDER_OF_PROGRAM [--print]

```lua blocks are saved under the last `path` named before them. In ```console blocks every "$ command" is run and its output, both
streams, compared with the lines below it; in "```console live" blocks only the exit status is looked at, because the clock is real.
"""
import os
import re
import subprocess
import sys
import tempfile


def blocks(text):
    """Yield (language, lines, text before) for each fenced block."""
    before, lines, language = "", None, ""
    for line in text.splitlines():
        if lines is None and line.startswith("```"):
            language, lines = line[3:], []
        elif lines is not None and line == "```":
            yield language, lines, before
            before, lines = "", None
        elif lines is not None:
            lines.append(line)
        else:
            before += line + "\n"


def commands(lines):
    """Split a console block into (command, expected output)."""
    found = []
    for line in lines:
        if line.startswith("$ "):
            found.append((line[2:], []))
        else:
            found[-1][1].append(line)
    return [(command, "".join(line + "\n" for line in output)) for command, output in found]


def main():
    readme, program_folder = sys.argv[1:3]
    env = {"PATH": os.path.abspath(program_folder) + ":" + os.environ["PATH"], "LC_ALL": "C.UTF-8"}
    env.update({name: value for name, value in os.environ.items() if name.endswith("SAN_OPTIONS")})
    bad = ran = 0
    with tempfile.TemporaryDirectory() as folder:
        env["HOME"] = folder
        with open(readme, encoding="utf-8") as file:
            text = file.read()
        for language, lines, before in blocks(text):
            if language == "lua":
                path = os.path.join(folder, re.findall(r"`([\w/.-]+\.lua)`", before)[-1])
                os.makedirs(os.path.dirname(path), exist_ok=True)
                with open(path, "w", encoding="utf-8") as file:
                    file.write("\n".join(lines) + "\n")
            if language not in ("console", "console live"):
                continue
            for command, expected in commands(lines):
                done = subprocess.run(command, shell=True, cwd=folder, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                      stderr=subprocess.STDOUT, text=True, start_new_session=True, check=False)
                ran += 1
                if "--print" in sys.argv:
                    print(f"$ {command}\n{done.stdout}(status {done.returncode})")
                elif done.returncode not in (0, 1) or (language == "console" and done.stdout != expected):
                    bad += 1
                    print(f"$ {command}\nREADME.md shows:\n{expected}but it printed (status {done.returncode}):\n{done.stdout}")
    if not ran:
        print("no command was found in the tour")
    return 1 if bad or not ran else 0


sys.exit(main())
