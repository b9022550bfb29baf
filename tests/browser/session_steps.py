"""Steps of a session on the phone that many tests take: stopping, and the questions after."""


def stop_here(page):
    """Stop the session at the exercise that is open, without a reason."""
    page.locator("[data-finish]").tap()
    page.locator("[data-why-none]:visible").tap()


def after_pains(page, worst="3", after="2"):
    """Answer the two pains of after the exercises, and pass by whatever else is asked."""
    page.locator(f"[data-score='{worst}']").tap()
    page.locator(f"[data-score='{after}']").tap()
    if page.locator("[data-screen=hurt]").is_visible():
        page.locator("[data-hurt-unsaid]").tap()
    if page.locator("[data-score-question=effort]").is_visible():
        page.locator("[data-score='']").tap()
