"""Session state, caches, sign-in, presses: the only rooms that touch the session."""
