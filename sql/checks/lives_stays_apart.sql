-- One hose at a place at a time. Returns stays that begin before the one before them has ended.
select stay_id, service_point, installed_on, ended_before
from (
    select stay_id, service_point, installed_on,
        lag(coalesce(removed_on, date '9999-12-31')) over (
            partition by service_point order by stay_id) as ended_before
    from lives.stays)
where installed_on < ended_before
order by stay_id
