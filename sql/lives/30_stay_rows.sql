-- lives.stay_rows: one row per stay of a hose at a service point, numbered as in clean.pairs, with
-- what cannot be told of its other columns; see lives.stays.
-- Reads clean.pairs (good rows only), clean.points, clean.installations_cells,
-- clean.replacements_cells, clean.parts, lives.carried, lives.concluded, lives.seen_good.
create or replace table lives.stay_rows as
with places as (
    select
        *, list_contains($degraded_is_suspension::varchar[], application_class) as is_lenient
    from clean.points
),

ends as (  -- before the joins, which hold every column of a stay in memory
    select
        stay_no as stay_id, point_no, installation_no, removal_no, installed_on,
        coalesce(removed_on, replaced_on) as removed_on, replaced_on is not null as is_implied,
        tag is not null as is_tagged
    from clean.pairs
),

joined as (
    select
        d.* exclude (point_no), q.*,
        coalesce(i.hose_id, r.hose_id, q.service_point || ' ' || d.installed_on) as hose_id,
        coalesce(i.construction, a.construction) as construction, i.part_number,
        case when d.is_implied then 'unknown' else r.reason end as removal_reason,
        coalesce(nullif(r.mechanism, 'unknown'), c.mechanism, r.mechanism) as mechanism,
        r.last_seen_good_on, coalesce(r.last_seen_good_on, n.inspected_on) as seen_good_on,
        coalesce(e.age_days, 0)::double as entry_age_days, r.part_cost, r.labour_cost, r.downtime_h,
        r.other_cost
    from ends as d
    join places as q using (point_no)
    join clean.installations_cells as i on i.row_no = d.installation_no
    left join clean.replacements_cells as r on r.row_no = d.removal_no
    left join clean.parts as a on a.part_number = i.part_number
    left join lives.carried as e on e.installation_no = d.installation_no
    left join lives.concluded as c on c.installation_no = d.installation_no
    left join lives.seen_good as n on n.removal_no = d.removal_no
),

ended as (
    select *, greatest(installed_on, records_from) as entry_on, case
        when removed_on is not null then removed_on
        when retired_on between installed_on and $as_of::date then retired_on
        else $as_of::date end as ended_on, coalesce(removal_reason in ('failed', 'found_failed')
            or removal_reason = 'removed_degraded' and not is_lenient, false) as is_failure
    from joined
),

kinds as (
    select *, case
        when not is_failure then 'suspended'
        when ended_on = installed_on then 'interval'
        when removal_reason = 'found_failed'
            and coalesce(seen_good_on < ended_on, true) then 'interval'
        else 'failed' end as kind
    from ended
)

select
    stay_id, service_point, hose_id, construction, part_number, installed_on, removed_on, removal_reason,
    mechanism, last_seen_good_on, entry_age_days, part_cost, labour_cost, downtime_h, other_cost,
    is_implied, kind, entry_on,
    case when kind = 'interval' then greatest(installed_on, seen_good_on, entry_on) else ended_on end as low_on,
    ended_on, point_no, installation_no, removal_no, is_tagged, application_class, hours_per_day
from kinds
