"""Tables: what is kept. Columns and relations only; queries live in `api.store`, validation in other classes."""

from models.records.jobs import (
    Job as Job,
    Party as Party,
    PhotoRecord as PhotoRecord,
    SurveyHeader as SurveyHeader,
    SurveyPart as SurveyPart,
)
from models.records.office import (
    AppMeta as AppMeta,
    Audit as Audit,
    Counter as Counter,
    Idempotency as Idempotency,
    Throttle as Throttle,
)
from models.records.people import (
    ApiKey as ApiKey,
    Role as Role,
    SigninLink as SigninLink,
    UserRecord as UserRecord,
    UserSession as UserSession,
)
from models.records.prices import (
    DraftBasis as DraftBasis,
    DraftLine as DraftLine,
    PriceLineRecord as PriceLineRecord,
    PriceListRecord as PriceListRecord,
    RepricingRun as RepricingRun,
    RuleSetRecord as RuleSetRecord,
)
from models.records.quotes import (
    AskAcceptance as AskAcceptance,
    Quote as Quote,
    QuoteApproval as QuoteApproval,
    QuoteEvent as QuoteEvent,
    QuoteFile as QuoteFile,
    QuotePrices as QuotePrices,
    QuoteState as QuoteState,
    QuoteWhy as QuoteWhy,
    Variation as Variation,
    VariationState as VariationState,
)
