-- results.unknown_reasons: one row per application class and one for the fleet: removals without a reason, how many of them were
-- failures if shared out by age, and how many more failures lie ahead than the forecast of recorded ones says. Reads unknown_reasons_frame.
create or replace table results.unknown_reasons as
with whole as (
    select
        'all' as application_class, sum(n_failed) as n_failed, sum(n_unfailed) as n_unfailed, sum(n_unknown) as n_unknown,
        sum(n_unknown_failed::decimal(18, 6))::double as n_unknown_failed
    from unknown_reasons_frame
)

select
    application_class, n_failed::integer as n_failed, n_unfailed::integer as n_unfailed, n_unknown::integer as n_unknown,
    n_unknown_failed, failures_factor
from unknown_reasons_frame
union all
select
    application_class, n_failed::integer, n_unfailed::integer, n_unknown::integer, n_unknown_failed,
    case when n_failed > 0 then 1 + n_unknown_failed / n_failed else 1 end
from whole
order by application_class
