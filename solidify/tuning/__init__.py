"""Search for the spray water table that meets wanted surface temperatures and limits."""
