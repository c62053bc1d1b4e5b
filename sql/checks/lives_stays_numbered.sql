-- Stays are numbered 1, 2, 3, ... in the order of place and day. Returns those out of order.
select stay_id, service_point, installed_on, number_wanted
from (
    select stay_id, service_point, installed_on, row_number() over (order by stay_id) as number_wanted,
        lag(service_point) over (order by stay_id) as place_before,
        lag(installed_on) over (order by stay_id) as day_before
    from lives.stays)
where stay_id <> number_wanted or service_point < place_before
    or (service_point = place_before and installed_on < day_before)
order by stay_id
