-- lives.stays: the stays of touched places as made again and those of all others as they were, but
-- open until the present data date.
-- Reads append.moved, base.lives.stays, lives.stays_part, clean.data_date.
create or replace view lives.stays as
with kept as (
    select s.* replace (s.stay_id + m.shift as stay_id), case
        when s.removed_on is not null then s.ended_on
        when m.retired_on between s.installed_on and d.as_of then m.retired_on
        else d.as_of end as ends_on
    from base.lives.stays as s
    join append.moved as m on m.point_no = s.point_no and not m.is_touched
    cross join clean.data_date as d
)

select * exclude (ends_on)
    replace (ends_on as ended_on, case when kind = 'suspended' then ends_on else low_on end as low_on)
from kept
union all by name
select s.* replace (s.stay_id + m.shift as stay_id)
from lives.stays_part as s
join append.moved as m using (point_no)
