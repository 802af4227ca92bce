"""Reference values as numbers with a record of their use; jobs at this car's prices."""
