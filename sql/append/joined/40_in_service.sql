-- lives.in_service: hoses that sit at places in use on the present data date; at places that are not
-- touched none has come.
-- Reads append.moved, base.lives.in_service, lives.in_service_part, lives.stays_part, clean.data_date.
create or replace view lives.in_service as
select
    s.* exclude (point_no) replace (
        s.age_days + (d.as_of - b.as_of) as age_days, s.life_id + m.shift as life_id)
from base.in_service as s
join append.moved as m on m.point_no = s.point_no and not m.is_touched
cross join clean.data_date as d
cross join base.note as b
where m.retired_on is null or m.retired_on > d.as_of or m.retired_on < s.installed_on
union all by name
select s.* replace (s.life_id + m.shift as life_id)
from lives.in_service_part as s
join lives.stays_part as t on t.stay_id = s.life_id
join append.moved as m using (point_no)
