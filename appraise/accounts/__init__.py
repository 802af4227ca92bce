"""People who may sign in from the network, and the log of what they did."""
