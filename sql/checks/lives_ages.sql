-- A life that is fitted was watched for some time and has the ages that its kind needs. Returns
-- those that do not.
select life_id, service_point, kind, entry_age_days, age_low_days, age_high_days
from lives.lives
where is_fitted and not coalesce(case kind
    when 'failed' then age_low_days = age_high_days and entry_age_days < age_low_days
    when 'interval' then age_low_days < age_high_days and entry_age_days <= age_low_days
    when 'suspended' then age_high_days is null and entry_age_days < age_low_days
    end and entry_age_days >= 0, false)
order by life_id
