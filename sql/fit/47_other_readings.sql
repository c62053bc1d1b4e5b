-- fit.other_readings: one row per doubt and place whose figures it could move: rows in doubt, and how many more failures there were
-- under the other reading. Those without an installation are in fit.orphan_lives.
-- Reads lives.lives, fit.places.
create or replace table fit.other_readings as
with ended as (
    select service_point, is_implied
    from lives.lives
    where is_fitted and is_unknown_reason
),

read as (
    select 'unknown reasons' as doubt, service_point from ended
    union all
    select 'implied removals', service_point from ended where is_implied
)

select r.doubt, p.place, count(*)::double as n
from read as r
join fit.places as p using (service_point)
group by r.doubt, p.place
order by r.doubt, p.place
