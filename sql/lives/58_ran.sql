-- lives.ran: one row per stay and clock that is known from meters, with what its hose brought along
-- from earlier stays. A stay that outlasts the readings of its meter (not covered) is known to have
-- run up to the last day that they cover. Reads lives.metered, lives.stays, lives.carried.
create or replace table lives.ran as
with chains as (
    select
        s.stay_id, k.clock, m.stay_id is not null as is_metered, m.is_covered, m.ran_entry,
        m.ran_low, m.ran_high, m.ran_end, m.ran_watched, c.hose_id, c.alone_no, c.nth, coalesce(c.statement, 0) as statement,
        c.installation_no is not null as is_chained
    from lives.stays as s
    cross join (select distinct clock from lives.metered) as k
    left join lives.metered as m using (stay_id, clock)
    left join lives.carried as c using (installation_no)
    where m.stay_id is not null or c.installation_no is not null
),

summed as (
    select
        *,
        case when is_chained then coalesce(bool_and(is_metered and is_covered) over before, true)
            and (statement = 0) else true end as is_whole,
        case when is_chained then coalesce(sum(ran_end::decimal(38, 3)) over before, 0)::double
            else 0 end as carried
    from chains
    window before as (
        partition by clock, is_chained, hose_id, alone_no, statement order by nth, stay_id
        rows between unbounded preceding and 1 preceding)
)

select
    stay_id, clock, is_covered, carried + ran_entry as ran_entry,
    carried + case when is_covered then ran_low else ran_watched end as ran_low,
    case when is_covered then carried + ran_high end as ran_high
from summed
where is_metered and is_whole
order by stay_id, clock
