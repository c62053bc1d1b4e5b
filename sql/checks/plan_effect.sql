-- Faulty rows: a plan that prevents something where it changes nothing, or more than all, or not what lies between the two
-- forecasts. One set by a rule may bring failures where new hoses fail sooner than old ones.
select scope, scope_name, n_months
from results.plan_effect
where not (prevented_lower <= prevented_upper and prevented <= failures_without_plan + 1e-9)
    or abs(failures_with_plan - (failures_without_plan - prevented)) > 1e-6
    or n_planned = 0 and abs(prevented) > 1e-6
order by scope, scope_name, n_months
