-- lives.meters: one row per reading of a meter of run hours or cycles, with what has run since its
-- first reading. A meter that falls was exchanged: that interval takes the mean pace of the twelve
-- before it, or what the new meter shows. Reads clean.usage.
create or replace table lives.meters as
with readings as (
    select
        clock, equipment, case when equipment is null then service_point end as service_point, read_on,
        max(reading)::decimal(38, 3) as reading,
        arg_max(row_no, (reading, row_no)) as row_no
    from clean.usage
    group by clock, equipment, case when equipment is null then service_point end, read_on
),

stepped as (
    select
        *,
        reading - lag(reading) over in_order as step,
        read_on - lag(read_on) over in_order as days
    from readings
    window in_order as (partition by clock, equipment, service_point order by read_on)
),

paced as (
    select
        *,
        coalesce(step < 0, false) as is_exchanged,
        sum(step) filter (where step >= 0) over twelve_before as run_before,
        sum(days) filter (where step >= 0) over twelve_before as days_before
    from stepped
    window twelve_before as (
        partition by clock, equipment, service_point order by read_on
        rows between 12 preceding and 1 preceding)
),

summed as (
    select *, sum(case
        when not is_exchanged then coalesce(step, 0)
        when days_before > 0 then (run_before * days / days_before)::decimal(38, 3)
        else reading
        end) over (
        partition by clock, equipment, service_point order by read_on
        rows between unbounded preceding and current row) as total
    from paced
),

yearly as (
    select
        *,
        first_value(total) over last_year as total_a_year_ago,
        first_value(read_on) over last_year as a_year_ago,
        lag(total) over in_order as total_before,
        lag(read_on) over in_order as read_on_before
    from summed
    window
        in_order as (partition by clock, equipment, service_point order by read_on),
        last_year as (
            partition by clock, equipment, service_point order by read_on
            range between interval 365 days preceding and current row)
)

select
    clock, equipment, service_point, read_on, reading::double as reading, total::double as total,
    lead(read_on) over in_order as next_read_on,
    cast(lead(total) over in_order as double) as next_total,
    case when a_year_ago < read_on
        then (total - total_a_year_ago)::double / (read_on - a_year_ago)
        else (total - total_before)::double / (read_on - read_on_before)
    end as per_day,
    is_exchanged, row_no
from yearly
window in_order as (partition by clock, equipment, service_point order by read_on)
order by clock, equipment, service_point, read_on
