"""Lists the files of a checkout for the lints, and runs a lint from the command line."""
import pathlib
import subprocess
import sys


def files(root, *suffixes):
    """Returns the paths, relative to root, of the files that git tracks or would add, by suffix.

    Outside a git checkout (an unpacked archive, a planted test tree) every file counts that lies
    in no hidden folder.
    """
    git = subprocess.run(
        ["git", "-c", "safe.directory=*", "-C", str(root), "ls-files", "-z",
         "--cached", "--others", "--exclude-standard"],
        capture_output=True, check=False)
    if git.returncode == 0 and git.stdout:
        found = [pathlib.Path(name) for name in git.stdout.decode().split("\0") if name]
    else:
        found = [path.relative_to(root) for path in root.rglob("*") if path.is_file()]
        found = [path for path in found if not any(part.startswith(".") for part in path.parts)]
    return sorted({path for path in found
                   if path.suffix in suffixes and (root / path).is_file()})


def run(name, check):
    """Runs check(root), which returns one line per fault; exits with 1 when there are any."""
    if len(sys.argv) != 2:
        sys.exit(f"usage: {name}.py ROOT")
    root = pathlib.Path(sys.argv[1]).resolve()
    if not (root / "CMakeLists.txt").is_file():
        sys.exit(f"{name}: {root} is not the top of a checkout")
    faults = check(root)
    for fault in faults:
        print(fault)
    print(f"{name}: {len(faults)} faults")
    sys.exit(1 if faults else 0)
