-- lives.meters: one row per reading of a run-hour meter, with the hours run since its first
-- reading. A meter that falls was exchanged: that interval takes the mean pace of the twelve
-- before it, or what the new meter shows. Reads clean.usage.
create or replace table lives.meters as
with readings as (
    select
        equipment, case when equipment is null then service_point end as service_point, read_on,
        max(reading)::decimal(18, 3) as reading,
        arg_max(row_no, (reading, row_no)) as row_no
    from clean.usage
    where clock = 'run_hours'
    group by equipment, case when equipment is null then service_point end, read_on
),

stepped as (
    select
        *,
        reading - lag(reading) over in_order as step,
        read_on - lag(read_on) over in_order as days
    from readings
    window in_order as (partition by equipment, service_point order by read_on)
),

paced as (
    select
        *,
        coalesce(step < 0, false) as is_exchanged,
        sum(step) filter (where step >= 0) over twelve_before as hours_before,
        sum(days) filter (where step >= 0) over twelve_before as days_before
    from stepped
    window twelve_before as (
        partition by equipment, service_point order by read_on
        rows between 12 preceding and 1 preceding)
),

summed as (
    select *, sum(case
        when not is_exchanged then coalesce(step, 0)
        when days_before > 0 then (hours_before * days / days_before)::decimal(18, 3)
        else reading
        end) over (
        partition by equipment, service_point order by read_on
        rows between unbounded preceding and current row) as hours_run
    from paced
),

yearly as (
    select
        *,
        first_value(hours_run) over last_year as hours_a_year_ago,
        first_value(read_on) over last_year as a_year_ago,
        lag(hours_run) over in_order as hours_run_before,
        lag(read_on) over in_order as read_on_before
    from summed
    window
        in_order as (partition by equipment, service_point order by read_on),
        last_year as (
            partition by equipment, service_point order by read_on
            range between interval 365 days preceding and current row)
)

select
    equipment, service_point, read_on, reading::double as reading, hours_run::double as hours_run,
    lead(read_on) over in_order as next_read_on,
    cast(lead(hours_run) over in_order as double) as next_hours_run,
    case when a_year_ago < read_on
        then (hours_run - hours_a_year_ago)::double / (read_on - a_year_ago)
        else (hours_run - hours_run_before)::double / (read_on - read_on_before)
    end as hours_per_day,
    is_exchanged, row_no
from yearly
window in_order as (partition by equipment, service_point order by read_on)
order by equipment, service_point, read_on
