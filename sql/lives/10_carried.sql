-- lives.carried: one row per installation whose hose was seen before or was not new: the age that
-- it brought along. Reads lives.returning, clean.installations_cells, clean.replacements_cells.
create or replace table lives.carried as
with named as (
    select
        c.installation_no, c.installed_on, c.point_no, c.age_at_installation,
        coalesce(i.hose_id, r.hose_id) as hose_id,
        coalesce(c.removed_on, c.replaced_on) as ended_on,
        case when c.tag is null then c.installation_no end as alone_no
    from lives.returning as c
    join clean.installations_cells as i on i.row_no = c.installation_no
    left join clean.replacements_cells as r on r.row_no = c.removal_no
),

chained as (
    select
        *,
        row_number() over in_order as nth,
        count(age_at_installation) over (
            in_order rows between unbounded preceding and current row) as statement,
        lead(installed_on) over in_order as next_installed_on
    from named
    window in_order as (
        partition by hose_id, alone_no
        order by installed_on, ended_on nulls last, point_no, installation_no)
),

timed as (
    select *, greatest(0, least(ended_on, next_installed_on) - installed_on) as days_until_next
    from chained
)

select
    installation_no, hose_id, alone_no, nth, statement,
    coalesce(first_value(age_at_installation) over in_order, 0)
    + coalesce(sum(days_until_next) over (
        in_order rows between unbounded preceding and 1 preceding), 0)::double as age_days
from timed
window in_order as (partition by hose_id, alone_no, statement order by nth)
order by installation_no
