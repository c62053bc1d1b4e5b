-- Faulty rows: comparisons of a kind with itself or with one that shares nothing, ratios outside their range, chances that are none.
select application_class, construction, other_application_class, other_construction, mechanism, b10_ratio, longer_b10_probability
from results.life_comparisons
where (application_class = other_application_class) = (construction = other_construction)
    or isnan(b10_ratio) or isinf(b10_ratio) or b10_ratio <= 0 or b10_ratio not between b10_ratio_lower and b10_ratio_upper
    or characteristic_life_ratio not between characteristic_life_ratio_lower and characteristic_life_ratio_upper
    or shape_ratio not between coalesce(shape_ratio_lower, 0) and coalesce(shape_ratio_upper, 'infinity')
    or longer_b10_probability not between 0 and 1 or longer_characteristic_life_probability not between 0 and 1
    or shape_p_value not between 0 and 1 or life_p_value not between 0 and 1 or law_p_value not between 0 and 1
    or log_rank_p_value not between 0 and 1
    or log_rank_early_p_value not between 0 and 1 or log_rank_late_p_value not between 0 and 1
order by application_class, construction, other_application_class, other_construction, mechanism
