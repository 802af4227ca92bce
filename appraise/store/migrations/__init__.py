"""How the tables came to be, one step a release that needed one."""
