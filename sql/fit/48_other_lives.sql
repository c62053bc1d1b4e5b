-- fit.other_lives: one row per doubt, kind of hose in which something is in doubt, reading of it and group of equal lives; for
-- mechanisms, failures of the one most often concluded in that kind, which those of unknown mechanism are or are not.
-- Reads fit.counted_lives, fit.cells, fit.orphan_lives.
create or replace table fit.other_lives as
with lives as (
    select
        c.cell, l.entry_age_days as entry, l.age_low_days as low,
        case when l.kind = 'suspended' then 'infinity'::double else l.age_high_days end as high,
        l.is_unknown_reason as is_unknown, l.is_unknown_reason and l.is_implied as is_implied, l.mechanism, count(*) as n
    from fit.counted_lives as l
    join fit.cells as c on c.application_class = l.application_class and c.construction = l.construction
    where l.is_fitted
    group by all
),

orphans as (
    select cell, low, high, count(*) as n from fit.orphan_lives group by all
),

commonest as (
    select cell, mechanism as first_mechanism
    from lives
    where mechanism <> 'unknown'
    group by cell, mechanism
    qualify row_number() over (partition by cell order by sum(n) desc, mechanism) = 1
),

doubted as (
    select 'unknown reasons' as doubt, cell, 'all' as mechanism, sum(n)::bigint as n_doubted from lives where is_unknown group by cell
    union all
    select 'implied removals', cell, 'all', sum(n)::bigint from lives where is_implied group by cell
    union all
    select 'missing installations', cell, 'all', sum(n)::bigint from orphans group by cell
    union all
    select 'missing mechanisms', cell, g.first_mechanism, sum(n)::bigint
    from lives join commonest as g using (cell) where lives.mechanism = 'unknown' group by cell, g.first_mechanism
),

read as (
    select d.doubt, d.cell, d.mechanism, d.n_doubted, o.is_other, l.entry, l.low, case
        when d.mechanism <> 'all' then case when l.mechanism = d.mechanism or (o.is_other and l.mechanism = 'unknown')
            then l.high else 'infinity'::double end
        when o.is_other and ((d.doubt = 'unknown reasons' and l.is_unknown) or (d.doubt = 'implied removals' and l.is_implied))
            then l.low
        else l.high end as high, l.n
    from doubted as d
    join lives as l using (cell)
    cross join (values (false), (true)) as o (is_other)
    union all
    select d.doubt, d.cell, d.mechanism, d.n_doubted, true, 0, l.low, l.high, l.n
    from doubted as d
    join orphans as l using (cell)
    where d.doubt = 'missing installations'
)

select doubt, cell, mechanism, n_doubted, is_other, entry, low, high, sum(n)::double as n
from read
where isfinite(high) or low > entry
group by all
order by all
