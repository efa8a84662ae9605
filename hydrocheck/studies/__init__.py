"""One user question a module: what work asks of a circuit, flow budgets, handbook formulas."""
