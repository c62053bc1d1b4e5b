-- Faulty rows: screens whose figures are not positive and finite, whose range does not hold the value, or a place not in the register.
select s.service_point, s.screen, s.compared_with, s.value, s.limit_value
from results.place_screens as s
left join results.service_points as p using (service_point)
where p.service_point is null or not isfinite(s.value) or not isfinite(s.limit_value) or s.value <= 0 or s.limit_value <= 0
    or isnan(s.ratio) or s.value not between coalesce(s.lower, s.value) and coalesce(s.upper, s.value)
    or s.rank not between 1 and s.n_ranked
order by s.service_point, s.screen, s.compared_with
