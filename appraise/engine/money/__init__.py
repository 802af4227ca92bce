"""Cost to buy, profit, highest bid, rates of return."""
