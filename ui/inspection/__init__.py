"""Parts of the inspect page.

Not `inspect`: `ui` stands first on the path, and the standard library has that name.
"""
