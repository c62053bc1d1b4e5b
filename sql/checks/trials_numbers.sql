-- Faulty rows: chances outside 0 to 1, ranges around nothing, a plan without its rule, a claim by a trial that may make none.
with wrong as (
    select 'candidate ' || service_point as what from results.trial_candidates
    where right_choice_probability not between 0 and 1 or shown_probability not between 0 and 1 or life_ratio <= 0
        or life_ratio not between life_ratio_lower and life_ratio_upper or (n_pairs is null) <> (rule is null)
        or verdict is null or verdict_reason is null
    union all
    select 'size ' || service_point from results.trial_sizes where right_choice_probability not between 0 and 1 or n_pairs < 1
    union all
    select 'trial ' || trial from results.trial_states
    where (claimed_on is not null and (not is_registered or n_pairs < 6)) or error_spent not between 0 and 0.05 + 1e-9
        or life_ratio not between life_ratio_lower and life_ratio_upper or second_longer_probability not between 0 and 1
        or state is null or words is null or rule is null
    union all
    select 'look ' || trial from results.trial_looks where life_ratio not between life_ratio_lower and life_ratio_upper
    union all
    select 'stay ' || trial from results.trial_stays where ended_on < installed_on
)

select what from wrong order by what
