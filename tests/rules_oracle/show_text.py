"""A show as the text of its file."""
from decimal import Decimal


def lua(value, indent=0):
    """A show file's text: tables, strings, numbers and booleans, one object a line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, (int, Decimal)):
        return format(value, "f") if isinstance(value, Decimal) else str(value)
    inner = "\n" + "  " * (indent + 1) if indent < 2 else " "
    if isinstance(value, dict):
        parts = [f"{key} = {lua(entry, indent + 1)}" for key, entry in value.items()]
    else:
        parts = [lua(entry, indent + 1) for entry in value]
    return "{" + inner + ("," + inner).join(parts) + " }" if parts else "{}"


def text(show):
    return "return " + lua(show) + "\n"
