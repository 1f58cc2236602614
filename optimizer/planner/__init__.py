"""Choose a programme.

`make_plan.plan` is the way in. `tabulate` lists the rounds to choose from (`options`) for a machine at the
ends of its tolerances (`corners`); `integer_model` chooses among them; `trim` finds the cheapest whole
seconds in the planner's own `simulation`, under the requirements in `margins`; `search` goes on to cheaper
neighbours. Where there is no plan, `iis` and `reasons` say why.
"""
