-- lives.run_hours: one row per stay whose hours are known from meters, with those that its hose
-- brought along from earlier stays. Reads lives.metered, lives.stays, lives.carried.
create or replace table lives.run_hours as
with chains as (
    select
        s.stay_id, m.stay_id is not null as is_metered, m.hours_entry, m.hours_low, m.hours_high,
        m.hours_end, c.hose_id, c.alone_no, c.nth, coalesce(c.statement, 0) as statement,
        c.installation_no is not null as is_chained
    from lives.stays as s
    left join lives.metered as m using (stay_id)
    left join lives.carried as c using (installation_no)
    where m.stay_id is not null or c.installation_no is not null
),

summed as (
    select
        *,
        case when is_chained then coalesce(bool_and(is_metered) over before, true)
            and (statement = 0) else true end as is_whole,
        case when is_chained then coalesce(sum(hours_end::decimal(18, 3)) over before, 0)::double
            else 0 end as hours_carried
    from chains
    window before as (
        partition by is_chained, hose_id, alone_no, statement order by nth, stay_id
        rows between unbounded preceding and 1 preceding)
)

select
    stay_id, hours_carried + hours_entry as run_hours_entry, hours_carried + hours_low as run_hours_low,
    hours_carried + hours_high as run_hours_high
from summed
where is_metered and is_whole
order by stay_id
